import type { Bridge } from '../bridge/bridge';
import { Doing } from '../bridge/doing.svelte';
import type { BackedUp } from '../bridge/types';
import type { KeepingDraft } from '../kit/keeping-draft.svelte';
import { NewPassphrase } from '../kit/passphrase.svelte';

/** A backup on its way to a file. */
export class Backup {
  made = $state.raw<BackedUp | null>(null);
  readonly passphrase = new NewPassphrase();
  readonly doing = new Doing();

  /** `path` is where to save it; that it is half-typed may be remembered, the passphrase never. */
  constructor(
    readonly bridge: Bridge,
    readonly path: Pick<KeepingDraft, 'text' | 'drop'>,
  ) {}

  get ready(): boolean {
    return !this.doing.busy && this.path.text.trim() !== '' && this.passphrase.same;
  }

  /** What was typed stays only where it came to nothing, to be put right. */
  async save(): Promise<boolean> {
    if (!this.ready) return false;
    this.made = null;
    return this.doing.run(async () => {
      const { path, passphrase } = this;
      this.made = await this.bridge.call('back_up', { path: path.text.trim(), passphrase: passphrase.first });
      await path.drop();
      passphrase.clear();
    });
  }
}
