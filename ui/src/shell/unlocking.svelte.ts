import type { Bridge } from '../bridge/bridge';
import { Doing } from '../bridge/doing.svelte';
import type { Problem } from '../bridge/types';
import { NewPassphrase } from '../kit/passphrase.svelte';

/** What a person is asked for: the passphrase that there is, or a new one. */
type Asks = 'known' | 'new';

const ASKS = new Map<string, Asks>([
  ['passphrase-needed', 'known'],
  ['wrong-passphrase', 'known'],
  ['no-keyring', 'new'],
  ['passphrase-short', 'new'],
]);

export interface Lock {
  asks: Asks;
  problem: Problem;
  open: (passphrase: string) => Promise<void>;
}

/** What keeps the data closed, where a passphrase can open it from here. */
export function lockOf({ unlock }: Bridge, problem: Problem | null): Lock | null {
  const asks = problem && ASKS.get(problem.code);
  return asks && unlock ? { asks, problem, open: unlock } : null;
}

/** The passphrase on its way to the program. */
export class Unlocking {
  readonly doing = new Doing();
  readonly fresh = new NewPassphrase();
  known = $state('');

  constructor(readonly lock: Lock) {}

  get ready(): boolean {
    if (this.doing.busy) return false;
    return this.lock.asks === 'new' ? this.fresh.same : this.known !== '';
  }

  /** Says whether it opened. What was typed stays only where it did not, to be put right. */
  async send(): Promise<boolean> {
    if (!this.ready) return false;
    const passphrase = this.lock.asks === 'new' ? this.fresh.first : this.known;
    const opened = await this.doing.run(() => this.lock.open(passphrase));
    if (opened) {
      this.known = '';
      this.fresh.clear();
    }
    return opened;
  }
}
