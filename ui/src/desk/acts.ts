import type { Bridge } from '../bridge/bridge';
import type { AddMark, Amendment, AmendmentId, Mark, MarkId, OfPage } from '../bridge/types';
import { words } from '../words/words';
import type { History } from './history.svelte';

/** What a mark is made of. */
export type NewMark = Omit<AddMark, 'pupil' | 'page'>;

/**
 * Marks and corrections on one page, each act so that it can be undone. What is put back gets a new id: acts speak of
 * things by a name that is looked up when they are done.
 */
export class Acts {
  /** The ids of today, by those that things had when an act was done. */
  readonly #ids = new Map<string, string>();

  constructor(
    readonly bridge: Bridge,
    readonly where: OfPage,
    readonly history: History,
  ) {}

  async addMark(mark: NewMark): Promise<MarkId> {
    const id = await this.#put(mark);
    this.history.did({
      name: t.markAdded,
      undo: () => this.#takeOff(id),
      redo: async () => this.#is(id, await this.#put(mark)),
    });
    return id;
  }

  async removeMark(mark: Mark): Promise<void> {
    await this.#takeOff(mark.id);
    this.history.did({
      name: t.markRemoved,
      undo: async () => this.#is(mark.id, await this.#put(madeOf(mark))),
      redo: () => this.#takeOff(mark.id),
    });
  }

  /** Alters a mark; what was answered to it stays with it. */
  async changeMark(mark: Mark, to: NewMark): Promise<MarkId> {
    const change = async (into: NewMark) => {
      await this.bridge.call('change_mark', { pupil: this.where.pupil, mark: this.#now(mark.id), ...into });
    };
    await change(to);
    this.history.did({ name: t.markChanged, undo: () => change(madeOf(mark)), redo: () => change(to) });
    return this.#now(mark.id);
  }

  async amend(what: Amendment, name: string): Promise<void> {
    const id = await this.#say(what);
    this.history.did({
      name,
      undo: () => this.#unsay(id),
      redo: async () => this.#is(id, await this.#say(what)),
    });
  }

  async takeBack(id: AmendmentId, what: Amendment, name: string): Promise<void> {
    await this.#unsay(id);
    this.history.did({
      name,
      undo: async () => this.#is(id, await this.#say(what)),
      redo: () => this.#unsay(id),
    });
  }

  async #put(mark: NewMark): Promise<MarkId> {
    return (await this.bridge.call('add_mark', { ...this.where, ...mark })).mark;
  }

  async #takeOff(id: MarkId): Promise<void> {
    await this.bridge.call('remove_mark', { pupil: this.where.pupil, mark: this.#now(id) });
  }

  async #say(what: Amendment): Promise<AmendmentId> {
    return (await this.bridge.call('amend', { ...this.where, what })).amendment;
  }

  async #unsay(id: AmendmentId): Promise<void> {
    await this.bridge.call('take_back', { ...this.where, amendment: this.#now(id) });
  }

  /** What was called `id` is called `now` from here on, by whatever name acts know it. */
  #is(id: string, now: string): void {
    const before = this.#now(id);
    for (const [name, value] of this.#ids) if (value === before) this.#ids.set(name, now);
    this.#ids.set(id, now);
    this.#ids.set(before, now);
  }

  #now(id: string): string {
    return this.#ids.get(id) ?? id;
  }
}

const t = words.undoing;

const madeOf = ({ shape, words: said, aspect, praise }: Mark): NewMark => ({ shape, words: said, aspect, praise });
