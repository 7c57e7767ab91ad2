import { Doing } from '../bridge/doing.svelte';
import type { BringBack } from '../bridge/types';

/** A backup on its way into a device that is nobody's yet. */
export class Bringing {
  path = $state('');
  passphrase = $state('');
  readonly doing = new Doing();

  /** `bring` hands it to the program. */
  constructor(readonly bring: (input: BringBack) => Promise<void>) {}

  get ready(): boolean {
    return !this.doing.busy && this.path.trim() !== '' && this.passphrase !== '';
  }

  /** Says whether it is here. What was typed stays where it is not, to be put right. */
  async send(): Promise<boolean> {
    if (!this.ready) return false;
    return this.doing.run(async () => {
      await this.bring({ path: this.path.trim(), passphrase: this.passphrase });
      this.passphrase = '';
    });
  }
}
