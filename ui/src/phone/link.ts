import { fromBase64Url, open, seal } from './seal';
import type { Answer, Answers, Ask, Pulse } from './types';
import type { Problem } from '../bridge/types';

/** Why a question got no answer that can be read. */
export type Failed =
  /** Nobody answers, or somebody else does. */
  | 'lost'
  /** The program knows this code no more, or never did. */
  | 'wrong'
  /** Its time is up. */
  | 'over'
  /** It has too much to do at the moment. */
  | 'busy'
  /** It is more than the program takes. */
  | 'tooLarge';

export class LinkFailed extends Error {
  constructor(readonly why: Failed) {
    super(why);
    this.name = 'LinkFailed';
  }
}

/** What the program said to a question that it heard. */
export interface Said<T> {
  pulse: Pulse;
  done: T | null;
  problem: Problem | null;
  picture: Uint8Array;
}

/** Carries a sealed question there and its answer back. Fails where nobody answers. */
export type Carry = (
  question: Uint8Array<ArrayBuffer>,
  sent: (share: number) => void,
) => Promise<{ status: number; body: Uint8Array }>;

/** What outlives a page that the system throws out of memory, as it may while the camera is open. */
export interface Memory {
  getItem(name: string): string | null;
  setItem(name: string, value: string): void;
  removeItem(name: string): void;
}

interface Kept {
  code: string;
  phone: string;
  number: number;
  visit: string | null;
}

const NAME = 'visit';
const NO_PICTURE = new Uint8Array();

type Named<A extends Ask['ask']> = Omit<Extract<Ask, { ask: A }>, 'ask'>;

/** The way to the program: seals, counts, opens. One question at a time, since numbers only rise. */
export class Link {
  #kept: Kept;
  #last: Promise<unknown> = Promise.resolve();
  #waiting = 0;

  /** `null` where there is no code: neither in the address nor from before. */
  static from(code: string | null, memory: Memory, carry: Carry): Link | null {
    const before = remembered(memory);
    if (before && (code === null || before.code === code)) return new Link(before, memory, carry);
    if (code === null || fromBase64Url(code)?.length !== 32) return null;
    const phone = [...crypto.getRandomValues(new Uint8Array(16))].map((byte) => byte.toString(16).padStart(2, '0')).join('');
    return new Link({ code, phone, number: 0, visit: null }, memory, carry);
  }

  private constructor(
    kept: Kept,
    readonly memory: Memory,
    readonly carry: Carry,
  ) {
    this.#kept = kept;
    this.#remember();
  }

  /** Whether a question is on its way. */
  get busy(): boolean {
    return this.#waiting > 0;
  }

  /** Begins the visit, unless it began before this page was loaded again. */
  async greet(): Promise<Problem | null> {
    if (this.#kept.visit !== null) return null;
    const { done, problem } = await this.#turn('greet', { phone: this.#kept.phone }, NO_PICTURE, () => undefined);
    if (done) {
      this.#kept.visit = done.key;
      this.#remember();
    }
    return problem;
  }

  ask<A extends keyof Answers & Ask['ask']>(
    ask: A,
    about: Named<A>,
    picture: Uint8Array = NO_PICTURE,
    sent: (share: number) => void = () => undefined,
  ): Promise<Said<Answers[A]>> {
    return this.#turn(ask, about, picture, sent);
  }

  /** Leaves nothing of the visit in the browser. */
  forget(): void {
    try {
      this.memory.removeItem(NAME);
    } catch {
      // Nothing was kept.
    }
  }

  #turn<A extends keyof Answers & Ask['ask']>(
    ask: A,
    about: Named<A>,
    picture: Uint8Array,
    sent: (share: number) => void,
  ): Promise<Said<Answers[A]>> {
    this.#waiting += 1;
    const turn = this.#last.then(() => this.#send<Answers[A]>({ ask, ...about }, picture, sent));
    this.#last = turn.catch(() => undefined).then(() => (this.#waiting -= 1));
    return turn;
  }

  async #send<T>(json: object, picture: Uint8Array, sent: (share: number) => void): Promise<Said<T>> {
    const { code, visit } = this.#kept;
    const key = fromBase64Url(visit ?? code);
    if (key === null) throw new LinkFailed('wrong');
    // Remembered before it is used: a number that was on its way once is never used again.
    this.#kept.number += 1;
    this.#remember();
    const question = seal(key, visit === null ? 'code' : 'visit', this.#kept.number, { json, picture });
    const answer = await this.carry(question, sent).catch(() => {
      throw new LinkFailed('lost');
    });
    if (answer.status !== 200) throw new LinkFailed(failed(answer.status));
    const text = open(key, question, answer.body);
    if (text === null) throw new LinkFailed('lost');
    const { pulse, done, problem } = text.json as Answer;
    return { pulse, done: done as T | null, problem, picture: text.picture };
  }

  #remember(): void {
    try {
      this.memory.setItem(NAME, JSON.stringify(this.#kept));
    } catch {
      // A browser that keeps nothing serves all the same, until the page is loaded again.
    }
  }
}

function failed(status: number): Failed {
  switch (status) {
    case 403:
      return 'wrong';
    case 410:
      return 'over';
    case 413:
      return 'tooLarge';
    case 429:
    case 503:
      return 'busy';
    default:
      return 'lost';
  }
}

function remembered(memory: Memory): Kept | null {
  try {
    const kept = JSON.parse(memory.getItem(NAME) ?? '') as Partial<Kept>;
    const { code, phone, number, visit } = kept;
    const whole = typeof code === 'string' && typeof phone === 'string' && typeof number === 'number';
    return whole && visit !== undefined ? { code, phone, number, visit } : null;
  } catch {
    return null;
  }
}

/** The code behind the `#` of the address. */
export function codeOf(fragment: string): string | null {
  return /^#([A-Za-z0-9_-]{43})$/.exec(fragment)?.[1] ?? null;
}
