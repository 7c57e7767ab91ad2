import type { Bridge } from '../bridge/bridge';
import { Doing } from '../bridge/doing.svelte';
import type { BackedUp } from '../bridge/types';
import { NewPassphrase } from '../kit/passphrase.svelte';

/** A backup on its way to a file. */
export class Backup {
  path = $state('');
  made = $state.raw<BackedUp | null>(null);
  readonly passphrase = new NewPassphrase();
  readonly doing = new Doing();

  constructor(readonly bridge: Bridge) {}

  get ready(): boolean {
    return !this.doing.busy && this.path.trim() !== '' && this.passphrase.same;
  }

  /** What was typed stays only where it came to nothing, to be put right. */
  async save(): Promise<boolean> {
    if (!this.ready) return false;
    this.made = null;
    return this.doing.run(async () => {
      const { path, passphrase } = this;
      this.made = await this.bridge.call('back_up', { path: path.trim(), passphrase: passphrase.first });
      this.path = '';
      passphrase.clear();
    });
  }
}
