// Half-typed words that outlive their screen. In the script of the component that has the field:
//
//   const reply = keepingDraft(`reply/${page}`);             // or with a text to start from where no draft is kept:
//   const reply = keepingDraft(`reply/${page}`, 'Thank you');
//
// In its markup `<textarea bind:value={reply.text}>`, and below it `<Restored draft={reply} />`, which says when the
// words are from an earlier visit and offers to begin afresh. Once they are sent: `await reply.drop()`.
//
// What is typed is kept encrypted on this device alone, after 400 ms of quiet and on leaving. An empty text keeps
// nothing. One field, one key; the key begins with what is typed: `task/…`, `mark/…`. Up to 10,000 characters.
// In a class without a component: `new KeepingDraft(bridge, key)`, and `keepOnLeaving` where it is shown.
import { onDestroy } from 'svelte';
import type { Bridge } from '../bridge/bridge';
import { getSession } from '../shell/session.svelte';
import { keepOnLeaving, KeepingText } from './keeping-text.svelte';

export class KeepingDraft {
  /** Whether the text is one from an earlier visit. */
  restored = $state(false);
  /** Ends when it is known whether there was a draft. */
  readonly loaded: Promise<void>;
  readonly #keeping: KeepingText;
  #touched = false;

  constructor(
    readonly bridge: Bridge,
    readonly key: string,
    readonly start = '',
  ) {
    // A text that is just the one to start from is no draft.
    this.#keeping = new KeepingText(start, async (text) => {
      await bridge.call('keep_draft', { key, text: text === start ? '' : text });
    });
    this.loaded = this.#load();
  }

  get text(): string {
    return this.#keeping.text;
  }

  set text(text: string) {
    this.#touched = true;
    this.restored = false;
    this.#keeping.text = text;
  }

  get state() {
    return this.#keeping.state;
  }

  get problem() {
    return this.#keeping.problem;
  }

  /** Keeps at once what is not kept yet. */
  now(): Promise<void> {
    return this.#keeping.now();
  }

  /** Begins afresh: nothing stays kept, and the text is the one to start from. To be called once it is sent. */
  async drop(): Promise<void> {
    await this.loaded;
    this.text = this.start;
    await this.now();
  }

  async #load(): Promise<void> {
    try {
      const { text } = await this.bridge.call('draft', { key: this.key });
      // Whoever was quicker than the answer goes on with what they type.
      if (text === null) return;
      if (this.#touched) return this.#keeping.known(text);
      this.#keeping.show(text);
      this.restored = true;
    } catch {
      // A draft that cannot be had hinders nobody from typing; keeping the next one tells what is wrong.
    }
  }
}

/** A draft that lives as long as the component that asks. */
export function keepingDraft(key: string, start = ''): KeepingDraft {
  const draft = new KeepingDraft(getSession().bridge, key, start);
  onDestroy(keepOnLeaving(draft));
  return draft;
}
