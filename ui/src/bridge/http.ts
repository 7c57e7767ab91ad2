import { words } from '../words/words';
import {
  type Bridge,
  type Connection,
  cropPath,
  exportPath,
  type Input,
  isProblem,
  Listeners,
  NO_CONNECTION,
  NOT_UNDERSTOOD,
  type Output,
  Refused,
  SESSION_ENDED,
  type Verb,
} from './bridge';
import type { BlobId, Crop, Event, PupilId, Staged, TakenPhoto } from './types';

/** Speaks to the program's own local web address. */
export class HttpBridge implements Bridge {
  /** The terminal asks, before there is an address. */
  readonly unlock = null;
  #events = new Listeners<Event>();
  #connections = new Listeners<Connection>();
  #connection: Connection = 'open';
  #stream: EventSource | null = null;

  async call<V extends Verb>(verb: V, input: Input<V>): Promise<Output<V>> {
    const answer = await this.#send(`/call/${verb}`, {
      method: 'POST',
      headers: { 'content-type': 'application/json' },
      body: JSON.stringify(input),
    });
    return answer as Output<V>;
  }

  async stagePhoto(file: Blob, taken: TakenPhoto): Promise<Staged> {
    const query = encodeURIComponent(JSON.stringify(taken));
    const answer = await this.#send(`/photo?about=${query}`, {
      method: 'POST',
      headers: { 'content-type': 'application/octet-stream' },
      body: file,
    });
    return answer as Staged;
  }

  pictureUrl(picture: BlobId): string {
    return `/blob/${picture}.jpg`;
  }

  thumbUrl(picture: BlobId): string {
    return `/thumb/${picture}.jpg`;
  }

  cropUrl(crop: Crop): string {
    return `/${cropPath(crop)}`;
  }

  stagedUrl(handle: string): string {
    return `/staged/${encodeURIComponent(handle)}.jpg`;
  }

  photoUrl(handle: string): string {
    return `/photo/${encodeURIComponent(handle)}.jpg`;
  }

  smallPhotoUrl(handle: string): string {
    return `/photo/${encodeURIComponent(handle)}/small.jpg`;
  }

  exportAddress(pupil: PupilId): string {
    return `/${exportPath(pupil)}`;
  }

  onEvent(hear: (event: Event) => void): () => void {
    return this.#events.add(hear);
  }

  onConnection(hear: (connection: Connection) => void): () => void {
    return this.#connections.add(hear);
  }

  /** Changes the secret of the address for a session cookie. */
  async openSession(secret: string): Promise<void> {
    await this.#send('/session', {
      method: 'POST',
      headers: { 'content-type': 'application/json' },
      body: JSON.stringify({ secret }),
    });
  }

  /** Starts to listen; the browser itself tries again after a break. */
  listen(): void {
    this.#stream?.close();
    const stream = new EventSource('/events');
    this.#stream = stream;
    stream.onmessage = (message) => this.#hear(String(message.data));
    stream.onopen = () => {
      const back = this.#connection !== 'open';
      this.#become('open');
      // What happened in between was not heard, so every view is asked for again.
      if (back) this.#events.tell({ event: 'changed', pupil: null });
    };
    stream.onerror = () => {
      if (this.#connection === 'open') this.#become('lost');
      if (stream.readyState === EventSource.CLOSED) setTimeout(() => void this.#retry(), 2000);
    };
  }

  async #retry(): Promise<void> {
    if (this.#connection === 'ended') return;
    try {
      await this.call('overview', {});
      this.listen();
    } catch (error) {
      const ended = error instanceof Refused && error.problem.code === SESSION_ENDED;
      if (!ended) setTimeout(() => void this.#retry(), 2000);
    }
  }

  #hear(data: string): void {
    try {
      this.#events.tell(JSON.parse(data) as Event);
    } catch {
      // A line that is no event says nothing that a view could show.
    }
  }

  #become(connection: Connection): void {
    if (this.#connection === connection) return;
    this.#connection = connection;
    this.#connections.tell(connection);
  }

  async #send(path: string, request: RequestInit): Promise<unknown> {
    let response: Response;
    try {
      response = await fetch(path, { ...request, credentials: 'same-origin', cache: 'no-store' });
    } catch {
      this.#become('lost');
      throw new Refused({ code: NO_CONNECTION, ...words.problems.noConnection });
    }
    if (response.status === 401) {
      this.#become('ended');
      throw new Refused({ code: SESSION_ENDED, ...words.problems.sessionEnded });
    }
    if (this.#connection === 'lost') this.#become('open');
    const answer: unknown = await response.json().catch(() => null);
    if (response.ok) return answer;
    if (isProblem(answer)) throw new Refused(answer);
    throw new Refused({ code: NOT_UNDERSTOOD, ...words.problems.notUnderstood });
  }
}

/** The secret that the program put behind the `#` of its address, if it is still there. */
export function secretOf(fragment: string): string | null {
  const found = /^#s=([A-Za-z0-9_-]+)$/.exec(fragment);
  return found?.[1] ?? null;
}
