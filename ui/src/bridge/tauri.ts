import { convertFileSrc, invoke } from '@tauri-apps/api/core';
import { listen } from '@tauri-apps/api/event';
import { words } from '../words/words';
import {
  type Bridge,
  type Connection,
  cropPath,
  exportPath,
  type Input,
  isProblem,
  Listeners,
  NOT_UNDERSTOOD,
  type Output,
  Refused,
  type Verb,
} from './bridge';
import type { BlobId, Crop, Event, PupilId, Staged, TakenPhoto } from './types';

/** Speaks to the program around this window. */
export class TauriBridge implements Bridge {
  #events = new Listeners<Event>();

  async listen(): Promise<void> {
    await listen<Event>('event', ({ payload }) => this.#events.tell(payload));
  }

  async call<V extends Verb>(verb: V, input: Input<V>): Promise<Output<V>> {
    return (await refusing(invoke('call', { verb, input }))) as Output<V>;
  }

  async stagePhoto(file: Blob, taken: TakenPhoto): Promise<Staged> {
    const bytes = new Uint8Array(await file.arrayBuffer());
    const headers = { about: encodeURIComponent(JSON.stringify(taken)) };
    return (await refusing(invoke('stage_photo', bytes, { headers }))) as Staged;
  }

  pictureUrl(picture: BlobId): string {
    return convertFileSrc(`blob/${picture}.jpg`, 'pothook');
  }

  thumbUrl(picture: BlobId): string {
    return convertFileSrc(`thumb/${picture}.jpg`, 'pothook');
  }

  cropUrl(crop: Crop): string {
    return convertFileSrc(cropPath(crop), 'pothook');
  }

  stagedUrl(handle: string): string {
    return convertFileSrc(`staged/${handle}.jpg`, 'pothook');
  }

  photoUrl(handle: string): string {
    return convertFileSrc(`photo/${handle}.jpg`, 'pothook');
  }

  smallPhotoUrl(handle: string): string {
    return convertFileSrc(`photo/${handle}/small.jpg`, 'pothook');
  }

  exportAddress(pupil: PupilId): string {
    return convertFileSrc(exportPath(pupil), 'pothook');
  }

  unlock = async (passphrase: string): Promise<void> => {
    await refusing(invoke('unlock', { passphrase }));
  };

  onEvent(hear: (event: Event) => void): () => void {
    return this.#events.add(hear);
  }

  /** The program and its window live and die together: there is nothing to lose. */
  onConnection(_hear: (connection: Connection) => void): () => void {
    return () => undefined;
  }
}

async function refusing(answer: Promise<unknown>): Promise<unknown> {
  try {
    return await answer;
  } catch (error) {
    if (isProblem(error)) throw new Refused(error);
    throw new Refused({ code: NOT_UNDERSTOOD, ...words.problems.notUnderstood });
  }
}
