import type { BlobId, Crop, Event, Problem, PupilId, Staged, TakenPhoto, Verbs } from './types';

export type Verb = keyof Verbs;
export type Input<V extends Verb> = Verbs[V]['input'];
export type Output<V extends Verb> = Verbs[V]['output'];

/** `lost`: nobody answers at the moment. `ended`: the program answers but no longer knows this page. */
export type Connection = 'open' | 'lost' | 'ended';

/** The one way from the screens to the program. Every failure is a `Refused`. */
export interface Bridge {
  call<V extends Verb>(verb: V, input: Input<V>): Promise<Output<V>>;
  /** Hands over a photograph; it is looked at, and waits until it is kept or dropped. */
  stagePhoto(file: Blob, taken: TakenPhoto): Promise<Staged>;
  pictureUrl(picture: BlobId): string;
  /** A page picture made small. */
  thumbUrl(picture: BlobId): string;
  /** A small part of a kept page picture. */
  cropUrl(crop: Crop): string;
  stagedUrl(handle: string): string;
  /** The photograph that a staged page was found in, made smaller. */
  photoUrl(handle: string): string;
  /** The same, so small that a list can show many. */
  smallPhotoUrl(handle: string): string;
  /** Where all of a pupil can be saved from, as one file that is not encrypted. */
  exportAddress(pupil: PupilId): string;
  /** Opens data that a passphrase locks; `null` where the program asks for it elsewhere. */
  readonly unlock: ((passphrase: string) => Promise<void>) | null;
  /** Both return a function that ends the subscription. */
  onEvent(hear: (event: Event) => void): () => void;
  onConnection(hear: (connection: Connection) => void): () => void;
}

/** A failure as the program told it; sort by `problem.code`, never by its sentences. */
export class Refused extends Error {
  constructor(readonly problem: Problem) {
    super(problem.message);
    this.name = 'Refused';
  }
}

/** Codes that arise in the screens themselves, when no answer of the program could be had. */
export const NO_CONNECTION = 'no-connection';
export const SESSION_ENDED = 'session-ended';
export const NOT_UNDERSTOOD = 'answer-not-understood';

export function isProblem(value: unknown): value is Problem {
  if (typeof value !== 'object' || value === null) return false;
  const { code, message, whatToDo } = value as Record<string, unknown>;
  return [code, message, whatToDo].every((part) => typeof part === 'string');
}

/** The functions that want to hear of something. */
export class Listeners<T> {
  #all = new Set<(value: T) => void>();

  add(hear: (value: T) => void): () => void {
    this.#all.add(hear);
    return () => this.#all.delete(hear);
  }

  tell(value: T): void {
    for (const hear of [...this.#all]) hear(value);
  }
}

/** Where the programs serve a crop; they read the same form. */
export function cropPath({ of, x, y, width, height }: Crop): string {
  return `crop/${of}/${x}-${y}-${width}-${height}.jpg`;
}

/** Where the programs serve all of a pupil. */
export function exportPath(pupil: PupilId): string {
  return `export/${pupil}.zip`;
}
