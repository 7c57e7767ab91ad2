import { xchacha20poly1305 } from '@noble/ciphers/chacha.js';
import { describe, expect, it } from 'vitest';
import { type Carry, codeOf, Link, LinkFailed, type Memory } from './link';

const CODE = 'AAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8';
const CODE_KEY = Uint8Array.from({ length: 32 }, (_, at) => at);
const VISIT_KEY = new Uint8Array(32).fill(9);
const VISIT = Buffer.from(VISIT_KEY).toString('base64url');
const LABEL = Buffer.from('pothook phone 1');

interface Heard {
  under: number;
  number: number;
  json: Record<string, unknown>;
}

/** A program at the other end, by the format's description; `answer` says what it answers. */
function program(answer: (heard: Heard) => object | number) {
  const heard: Heard[] = [];
  const carry: Carry = async (question) => {
    const bytes = Buffer.from(question);
    const key = bytes[0] === 1 ? VISIT_KEY : CODE_KEY;
    const bound = Buffer.concat([LABEL, Buffer.of(0), bytes.subarray(0, 5)]);
    const text = Buffer.from(xchacha20poly1305(key, bytes.subarray(5, 29), bound).decrypt(bytes.subarray(29)));
    const json = JSON.parse(text.toString('utf8', 8, 8 + text.readUInt32BE(0))) as Record<string, unknown>;
    const one = { under: bytes[0] ?? 0, number: bytes.readUInt32BE(1), json };
    heard.push(one);
    const said = answer(one);
    if (typeof said === 'number') return { status: said, body: new Uint8Array() };
    const plain = Buffer.from(JSON.stringify({ pulse: { secondsLeft: 900, turnedAway: 0 }, done: null, problem: null, ...said }));
    const lengths = Buffer.alloc(8);
    lengths.writeUInt32BE(plain.length);
    const nonce = Buffer.alloc(24, heard.length);
    const back = Buffer.concat([LABEL, Buffer.of(1), bytes.subarray(0, 29)]);
    const sealed = xchacha20poly1305(key, nonce, back).encrypt(Buffer.concat([lengths, plain, Buffer.alloc(40)]));
    return { status: 200, body: Buffer.concat([nonce, sealed]) };
  };
  return { heard, carry };
}

function memory(): Memory & { held: Map<string, string> } {
  const held = new Map<string, string>();
  return { held, getItem: (name) => held.get(name) ?? null, setItem: (name, value) => void held.set(name, value), removeItem: (name) => void held.delete(name) };
}

const friendly = ({ json }: Heard) => ({ done: json.ask === 'greet' ? { key: VISIT } : { asked: json.ask } });

function linked(answer: (heard: Heard) => object | number, held = memory()) {
  const other = program(answer);
  const link = Link.from(CODE, held, other.carry);
  if (!link) throw new Error('there is a code');
  return { link, held, ...other };
}

describe('the way to the program', () => {
  it('greets under the code’s key, and asks under the visit’s', async () => {
    const { link, heard } = linked(friendly);
    expect(await link.greet()).toBe(null);
    const said = await link.ask('week', {});
    expect(said.done).toEqual({ asked: 'week' });
    expect(said.pulse.secondsLeft).toBe(900);
    expect(heard.map(({ under, number }) => [under, number])).toEqual([
      [0, 1],
      [1, 2],
    ]);
    expect(heard[0]?.json.phone).toMatch(/^[0-9a-f]{32}$/);
  });

  it('sends one question after the other, with numbers that rise', async () => {
    let answer = () => undefined as void;
    const first = new Promise<void>((done) => (answer = done));
    const { link, heard, carry } = linked(friendly);
    await link.greet();
    const slow = Link.from(CODE, memory(), async (question, sent) => {
      if (heard.length === 1) await first;
      return carry(question, sent);
    });
    const both = [slow?.greet(), slow?.ask('look', {})];
    expect(slow?.busy).toBe(true);
    await Promise.resolve();
    expect(heard.length).toBe(1);
    answer();
    await Promise.all(both);
    expect(slow?.busy).toBe(false);
    expect(heard.slice(1).map(({ number }) => number)).toEqual([1, 2]);
  });

  it('goes on where it was when the page is loaded again', async () => {
    const before = linked(friendly);
    await before.link.greet();
    const after = Link.from(null, before.held, before.carry);
    expect(await after?.greet()).toBe(null);
    await after?.ask('week', {});
    expect(before.heard.map(({ under, number }) => [under, number])).toEqual([
      [0, 1],
      [1, 2],
    ]);
  });

  it('uses no number twice, though its answer never came', async () => {
    let there = false;
    const { link, held, heard, carry } = linked(friendly);
    const broken = Link.from(null, held, async (question, sent) => {
      const answer = await carry(question, sent);
      if (!there) throw new Error('the network broke');
      return answer;
    });
    await expect(broken?.greet()).rejects.toMatchObject({ why: 'lost' });
    there = true;
    expect(await broken?.greet()).toBe(null);
    expect(heard.map(({ number }) => number)).toEqual([1, 2]);
    expect(new Set(heard.map(({ json }) => json.phone)).size).toBe(1);
    expect(link.busy).toBe(false);
  });

  it('begins anew with another code', async () => {
    const before = linked(friendly);
    await before.link.greet();
    const other = Link.from(CODE.replace('AAEC', 'BBBB'), before.held, async () => ({ status: 403, body: new Uint8Array() }));
    await expect(other?.greet()).rejects.toMatchObject({ why: 'wrong' });
  });

  it.each([
    [403, 'wrong'],
    [410, 'over'],
    [413, 'tooLarge'],
    [429, 'busy'],
    [503, 'busy'],
    [409, 'lost'],
    [500, 'lost'],
  ])('takes a bare %i for “%s”', async (status, why) => {
    const { link } = linked(() => status);
    await expect(link.greet()).rejects.toMatchObject({ why });
  });

  it('takes an answer that does not open for none', async () => {
    const link = Link.from(CODE, memory(), async () => ({ status: 200, body: new Uint8Array(65_600) }));
    await expect(link?.greet()).rejects.toBeInstanceOf(LinkFailed);
  });

  it('hands on what the program refuses, and has no visit then', async () => {
    const used = { code: 'code-used', message: 'a', whatToDo: 'b' };
    const { link, heard } = linked(() => ({ problem: used }));
    expect(await link.greet()).toEqual(used);
    await link.greet();
    expect(heard.map(({ under }) => under)).toEqual([0, 0]);
  });

  it('serves though the browser keeps nothing', async () => {
    const refuse = () => {
      throw new Error('storage is switched off');
    };
    const { carry } = program(friendly);
    const link = Link.from(CODE, { getItem: refuse, setItem: refuse, removeItem: refuse }, carry);
    expect(await link?.greet()).toBe(null);
    expect((await link?.ask('look', {}))?.done).toEqual({ asked: 'look' });
    expect(() => link?.forget()).not.toThrow();
  });

  it('leaves nothing behind when it is over', async () => {
    const { link, held } = linked(friendly);
    await link.greet();
    expect(held.held.size).toBe(1);
    link.forget();
    expect(held.held.size).toBe(0);
  });

  it('is none without a code', () => {
    const { carry } = program(friendly);
    const held = memory();
    expect(Link.from(null, held, carry)).toBe(null);
    held.setItem('visit', '{"code":1}');
    expect(Link.from(null, held, carry)).toBe(null);
    expect(Link.from('short', held, carry)).toBe(null);
  });
});

describe('the code of an address', () => {
  it('is what stands behind the #, whole', () => {
    expect(codeOf(`#${CODE}`)).toBe(CODE);
    for (const other of ['', '#', CODE, `#${CODE}=`, `#${CODE}a`, `#s=${CODE}`]) expect(codeOf(other), other).toBe(null);
  });
});
