import type { Bridge } from '../bridge/bridge';
import { Doing } from '../bridge/doing.svelte';
import { dayHere } from '../lessons/lesson';
import { nextUnseenRow } from '../today/waiting';
import type { OfPage, PageId, PupilRow } from '../bridge/types';

/** The next page that nobody has looked at; `null` where there is none but the one left out. */
export function nextOf(pupils: readonly PupilRow[], except: PageId): OfPage | null {
  const row = nextUnseenRow(pupils, dayHere(), except);
  return row?.nextUnseen ? { pupil: row.pupil, page: row.nextUnseen } : null;
}

/** Saying that a page was looked at, and going on to the next. */
export class Looking {
  readonly doing = new Doing();

  constructor(
    readonly bridge: Bridge,
    readonly where: OfPage,
  ) {}

  async look(): Promise<boolean> {
    return this.doing.run(async () => {
      await this.bridge.call('look', this.where);
    });
  }

  /** Looked at, unless it was before; the answer is where to go on, or `null` where nothing waits. */
  async lookAndGo(looked: boolean, go: (to: OfPage | null) => void): Promise<void> {
    await this.doing.run(async () => {
      if (!looked) await this.bridge.call('look', this.where);
      const { pupils } = await this.bridge.call('pupils', {});
      go(nextOf(pupils, this.where.page));
    });
  }
}
