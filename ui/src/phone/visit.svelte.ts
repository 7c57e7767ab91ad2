import type { PageId, Problem, TaskId } from '../bridge/types';
import { Link, LinkFailed, type Said } from './link';
import { phoneWords } from './words';
import type { Looked, Outcome, Week } from './types';

/** Where a person is. */
export type At = 'opening' | 'ready' | 'sending' | 'looked' | 'keeping' | 'outcome' | 'ended';
/** Why nothing more can be done here. */
export type Ending = 'none' | 'expired' | 'used' | 'wrong';
/** What trying again may mend. */
export type Trouble = 'lost' | 'busy';

/** Largest photograph that the program takes. */
const LARGEST = 40 * 1024 * 1024;
const CODE_USED = 'code-used';

/** One visit of this phone, from the code to what a page shows. */
export class Visit {
  at = $state<At>('opening');
  ending = $state<Ending | null>(null);
  trouble = $state<Trouble | null>(null);
  problem = $state.raw<Problem | null>(null);
  week = $state.raw<Week | null>(null);
  task = $state<TaskId | null>(null);
  /** How much of the photograph is sent, 0 to 1. */
  sent = $state(0);
  looked = $state.raw<Looked | null>(null);
  /** Address of the flat page's picture. */
  preview = $state<string | null>(null);
  outcome = $state.raw<Outcome | null>(null);
  /** How often another phone came with the same code. */
  turnedAway = $state(0);
  endsAt = $state<number | null>(null);
  /** The photograph, until the program has looked at it. */
  photo = $state.raw<File | null>(null);
  #again: (() => Promise<void>) | null = null;

  constructor(
    readonly link: Link | null,
    readonly now: () => number = Date.now,
  ) {}

  /** Whether there is something that a press can try again. */
  get canTryAgain(): boolean {
    return this.#again !== null;
  }

  async begin(): Promise<void> {
    await this.#go('opening', 'opening', async (link) => {
      const refused = await link.greet();
      if (refused?.code === CODE_USED) this.#end('used');
      return refused ?? (await this.#ask(link));
    });
  }

  /** Sends a photograph to be looked at. It is held until it was. */
  async send(photo: File): Promise<void> {
    this.#clear();
    this.photo = photo;
    if (photo.size > LARGEST) {
      this.problem = problem('photo-too-large', phoneWords.page.tooLarge, phoneWords.page.tooLargeWhy);
      return;
    }
    await this.#go('sending', 'ready', async (link) => {
      const bytes = await photo.arrayBuffer().catch(() => null);
      if (!bytes) return problem('photo-unread', phoneWords.page.unread, phoneWords.page.unreadWhy);
      // A phone that comes from another address says so before it sends much.
      this.#heard(await link.ask('look', {}));
      const said = await link.ask('photo', { task: this.task }, new Uint8Array(bytes), (share) => (this.sent = share));
      const looked = this.#heard(said);
      if (looked) {
        this.photo = null;
        this.looked = looked;
        this.preview = URL.createObjectURL(new Blob([said.picture.slice()], { type: 'image/jpeg' }));
        this.at = 'looked';
      }
      return said.problem;
    });
  }

  async keep(): Promise<void> {
    const looked = this.looked;
    if (!looked) return;
    await this.#go('keeping', 'looked', async (link) => {
      const said = await link.ask('keep', { handle: looked.handle, despite: !looked.fit });
      const kept = this.#heard(said);
      if (kept) {
        this.#clear();
        void this.#show(kept.page);
      }
      return said.problem;
    });
  }

  async drop(): Promise<void> {
    const looked = this.looked;
    this.#clear();
    this.at = 'ready';
    // What cannot be dropped is dropped when the visit ends; nobody needs to hear of it.
    if (looked) await this.link?.ask('drop', { handle: looked.handle }).catch(() => undefined);
  }

  /** Back to what there is to do. */
  async next(): Promise<void> {
    this.outcome = null;
    await this.#go('opening', 'opening', (link) => this.#ask(link));
  }

  async tryAgain(): Promise<void> {
    await this.#again?.();
  }

  /** Asks whether the program is still there; only while nothing else is under way. */
  async look(): Promise<void> {
    if (!this.link || this.link.busy || this.#again || !['ready', 'looked', 'outcome'].includes(this.at)) return;
    try {
      this.#heard(await this.link.ask('look', {}));
      this.trouble = null;
    } catch (error) {
      if (error instanceof LinkFailed) this.#fails(error, this.at, null);
    }
  }

  async #ask(link: Link): Promise<Problem | null> {
    const said = await link.ask('week', {});
    const week = this.#heard(said);
    if (week) {
      this.week = week;
      this.task = (week.tasks.find((one) => !one.answered) ?? week.tasks[0])?.task.id ?? null;
      this.at = 'ready';
    }
    return said.problem;
  }

  async #show(page: PageId): Promise<void> {
    await this.#go('outcome', 'outcome', async (link) => {
      const said = await link.ask('result', { page });
      this.outcome = this.#heard(said);
      return said.problem;
    });
  }

  /** What was said, and how the visit stands with it. */
  #heard<T>({ pulse, done }: Said<T>): T | null {
    this.turnedAway = pulse.turnedAway;
    this.endsAt = this.now() + pulse.secondsLeft * 1000;
    return done;
  }

  /** Goes somewhere to do something; what comes to nothing leads back. */
  async #go(during: At, back: At, act: (link: Link) => Promise<Problem | null>): Promise<void> {
    const { link } = this;
    if (!link) {
      this.#end('none');
      return;
    }
    this.problem = null;
    this.trouble = null;
    this.#again = null;
    this.sent = 0;
    this.at = during;
    try {
      const refused = await act(link);
      if (refused && this.ending === null) {
        this.problem = refused;
        this.at = back;
      }
    } catch (error) {
      if (!(error instanceof LinkFailed)) throw error;
      this.#fails(error, back, () => this.#go(during, back, act));
    }
  }

  #fails({ why }: LinkFailed, back: At, again: (() => Promise<void>) | null): void {
    const late = this.endsAt !== null && this.now() >= this.endsAt;
    if (why === 'wrong') this.#end('wrong');
    else if (why === 'over' || late) this.#end('expired');
    else {
      this.at = back;
      this.#again = why === 'tooLarge' ? null : again;
      if (why === 'tooLarge') this.problem = problem('photo-too-large', phoneWords.page.tooLarge, phoneWords.page.tooLargeWhy);
      else this.trouble = why;
    }
  }

  #end(why: Ending): void {
    this.ending = why;
    this.at = 'ended';
    this.#clear();
    this.link?.forget();
  }

  #clear(): void {
    this.#again = null;
    this.looked = null;
    this.photo = null;
    if (this.preview !== null) URL.revokeObjectURL(this.preview);
    this.preview = null;
  }
}

function problem(code: string, message: string, whatToDo: string): Problem {
  return { code, message, whatToDo };
}
