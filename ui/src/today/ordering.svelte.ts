import type { Bridge } from '../bridge/bridge';
import { Doing } from '../bridge/doing.svelte';
import type { PupilId, PupilRow } from '../bridge/types';
import { byLesson } from '../lessons/lesson';

/** The tutor's own order of the pupils, kept at every step. */
export class Ordering {
  readonly doing = new Doing();

  constructor(readonly bridge: Bridge) {}

  /** Puts a pupil one place earlier (−1) or later (+1); says whether it could be done. */
  async move(rows: readonly PupilRow[], pupil: PupilId, by: -1 | 1): Promise<boolean> {
    const pupils = rows.map((row) => row.pupil);
    const from = pupils.indexOf(pupil);
    const to = from + by;
    if (from < 0 || to < 0 || to >= pupils.length) return false;
    pupils.splice(to, 0, ...pupils.splice(from, 1));
    return this.#set(pupils);
  }

  byName(rows: readonly PupilRow[]): Promise<boolean> {
    const name = (row: PupilRow) => row.profile?.name ?? '';
    return this.#set([...rows].sort((a, b) => name(a).localeCompare(name(b))).map((row) => row.pupil));
  }

  byLesson(rows: readonly PupilRow[]): Promise<boolean> {
    return this.#set([...rows].sort((a, b) => byLesson(a.lesson, b.lesson)).map((row) => row.pupil));
  }

  #set(pupils: PupilId[]): Promise<boolean> {
    return this.doing.run(async () => {
      await this.bridge.call('set_order', { pupils });
    });
  }
}
