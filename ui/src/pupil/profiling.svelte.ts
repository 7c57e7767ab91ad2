import { untrack } from 'svelte';
import { Doing } from '../bridge/doing.svelte';
import type { Profile } from '../bridge/types';
import type { KeepingDraft } from '../kit/keeping-draft.svelte';

/** A profile on its way to being kept. What is half done, a letter model above all, outlives its screen as a draft. */
export class Profiling {
  profile = $state<Profile>() as Profile;
  /** Changes when all of it was replaced, so that fields with a state of their own begin anew. */
  version = $state(0);
  readonly doing = new Doing();
  #sent = false;

  constructor(
    readonly start: Profile,
    readonly draft: KeepingDraft,
  ) {
    this.profile = structuredClone(start);
    void draft.loaded.then(() => this.#restore());
  }

  /** Keeps what stands in the form. To be called at each change of it. */
  keep(): void {
    const profile = $state.snapshot(this.profile);
    if (!this.#sent) untrack(() => this.#keep(profile));
  }

  #keep(profile: Profile): void {
    const text = JSON.stringify(profile);
    const kept = this.draft.text === '' ? JSON.stringify(this.start) : this.draft.text;
    if (text !== kept) this.draft.text = text;
  }

  /** The profile as it is to be sent. */
  get ready(): Profile {
    const profile = $state.snapshot(this.profile);
    return { ...profile, name: profile.name.trim() };
  }

  /** Sends it; says whether it ended well. Then there is nothing half done any more. */
  send(save: (profile: Profile) => Promise<void>): Promise<boolean> {
    return this.doing.run(async () => {
      this.#sent = true;
      try {
        await save(this.ready);
      } catch (error) {
        this.#sent = false;
        throw error;
      }
      await this.draft.drop();
    });
  }

  async afresh(): Promise<void> {
    this.#show(this.start);
    await this.draft.drop();
  }

  #restore(): void {
    if (!this.draft.restored) return;
    const profile = profileFrom(this.draft.text, this.start);
    if (profile) this.#show(profile);
  }

  #show(profile: Profile): void {
    this.profile = structuredClone(profile);
    this.version += 1;
  }
}

/** Reads a draft; `null` where it is not of the same shape as the profile to start from. */
export function profileFrom(text: string, start: Profile): Profile | null {
  try {
    const read: unknown = JSON.parse(text);
    return alike(read, start) ? (read as Profile) : null;
  } catch {
    return null;
  }
}

/** Whether a value has the fields of another, each of the same type. Kinds of ruling differ in theirs. */
function alike(read: unknown, like: unknown): boolean {
  if (Array.isArray(like)) {
    return Array.isArray(read) && read.length === like.length && read.every((one, at) => alike(one, like[at]));
  }
  if (typeof like !== 'object' || like === null) return typeof read === typeof like;
  if (typeof read !== 'object' || read === null) return false;
  const fields = read as Record<string, unknown>;
  if ('kind' in like) return typeof fields.kind === 'string';
  return Object.entries(like).every(([name, value]) => alike(fields[name], value));
}
