import type { Bridge } from '../bridge/bridge';
import { Doing } from '../bridge/doing.svelte';
import type { MarkId, PageId, PupilId, Reply } from '../bridge/types';

/** Replies to one mark, or to the page itself, in the order in which they were written. */
export function repliesTo(replies: readonly Reply[], page: PageId, mark: MarkId | null): Reply[] {
  return replies.filter((reply) => reply.page === page && reply.mark === mark);
}

/** Replies to marks of a page that are no longer on it: what was said is not lost with the mark. */
export function strayReplies(replies: readonly Reply[], page: PageId, marks: readonly MarkId[]): Reply[] {
  return replies.filter((reply) => reply.page === page && reply.mark !== null && !marks.includes(reply.mark));
}

/** Under what a half-typed reply is kept. A letter before the mark's id keeps it from being taken for a pupil's. */
export function draftKey(page: PageId, mark: MarkId | null): string {
  return mark === null ? `reply/${page}` : `reply/${page}/m${mark}`;
}

/** A reply on its way. */
export class Replying {
  readonly doing = new Doing();

  constructor(
    readonly bridge: Bridge,
    readonly pupil: PupilId,
    readonly page: PageId,
    readonly mark: MarkId | null,
  ) {}

  /** Says whether it was sent. Nothing but blanks is no reply. */
  async send(words: string): Promise<boolean> {
    const said = words.trim();
    if (said === '') return false;
    return this.doing.run(async () => {
      await this.bridge.call('add_reply', { pupil: this.pupil, page: this.page, mark: this.mark, words: said });
    });
  }
}
