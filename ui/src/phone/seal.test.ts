import { xchacha20poly1305 } from '@noble/ciphers/chacha.js';
import { describe, expect, it } from 'vitest';
import { fromBase64Url, open, seal } from './seal';

const hex = (text: string) => Uint8Array.from(Buffer.from(text.replace(/\s/g, ''), 'hex'));
const bytes = (length: number, first: number) => Uint8Array.from({ length }, (_, at) => first + at);
const KEY = bytes(32, 1);
const LABEL = Buffer.from('pothook phone 1');

/** What the program does with a question: opens it by its head. */
function opened(question: Uint8Array, key = KEY): Buffer {
  const bound = Buffer.concat([LABEL, Buffer.of(0), question.subarray(0, 5)]);
  return Buffer.from(xchacha20poly1305(key, question.subarray(5, 29), bound).decrypt(question.subarray(29)));
}

/** What the program answers. */
function answered(question: Uint8Array, text: Uint8Array, key = KEY, direction = 1): Uint8Array {
  const nonce = bytes(24, 100);
  const bound = Buffer.concat([LABEL, Buffer.of(direction), question.subarray(0, 29)]);
  return Buffer.concat([nonce, xchacha20poly1305(key, nonce, bound).encrypt(text)]);
}

function textOf(json: string, picture: Uint8Array): Uint8Array {
  const text = Buffer.alloc(65_536);
  text.writeUInt32BE(json.length, 0);
  text.writeUInt32BE(picture.length, 4);
  text.write(json, 8);
  text.set(picture, 8 + json.length);
  return text;
}

describe('the cipher', () => {
  // draft-irtf-cfrg-xchacha-03, appendix A.3.1. The program's own code is held against the same.
  it('gives the published example', () => {
    const plain = Buffer.from(
      "Ladies and Gentlemen of the class of '99: If I could offer you only one tip for the future, sunscreen would be it.",
    );
    const cipher = xchacha20poly1305(bytes(32, 0x80), bytes(24, 0x40), hex('50515253c0c1c2c3c4c5c6c7'));
    expect(cipher.encrypt(plain)).toEqual(
      hex(`bd6d179d3e83d43b9576579493c0e939572a1700252bfaccbed2902c21396cbb
           731c7f1b0b4aa6440bf3a82f4eda7e39ae64c6708c54c216cb96b72e1213b452
           2f8c9ba40db5d945b11b69b982c1bb9e3f3fac2bc369488f76b2383565d3fff9
           21f9664c97637da9768812f615c68b13b52e
           c0875924c1c7987947deafd8780acf49`),
    );
  });
});

describe('a question', () => {
  it('has head, number, lengths, JSON, picture and noughts in their places', () => {
    const question = seal(KEY, 'visit', 0x01020304, { json: { ask: 'look' }, picture: Uint8Array.of(7, 8, 9) });
    expect([...question.subarray(0, 5)]).toEqual([1, 1, 2, 3, 4]);
    const text = opened(question);
    expect(text.length).toBe(65_536);
    expect([text.readUInt32BE(0), text.readUInt32BE(4)]).toEqual([14, 3]);
    expect(text.toString('utf8', 8, 22)).toBe('{"ask":"look"}');
    expect([...text.subarray(22, 26)]).toEqual([7, 8, 9, 0]);
    expect(text.subarray(25).every((byte) => byte === 0)).toBe(true);
  });

  it.each([
    [0, 1],
    [65_514, 1],
    [65_515, 2],
    [200_000, 4],
  ])('with a picture of %i bytes fills %i steps', (length, steps) => {
    const question = seal(KEY, 'visit', 1, { json: { ask: 'look' }, picture: new Uint8Array(length).fill(1) });
    expect(question.length).toBe(29 + steps * 65_536 + 16);
    expect(opened(question).readUInt32BE(4)).toBe(length);
  });

  it('never has the same nonce twice', () => {
    const nonce = () => seal(KEY, 'code', 1, { json: {}, picture: new Uint8Array() }).subarray(5, 29).join();
    expect(new Set(Array.from({ length: 50 }, nonce)).size).toBe(50);
  });
});

describe('an answer', () => {
  const question = seal(KEY, 'code', 4, { json: { ask: 'week' }, picture: new Uint8Array() });
  const answer = answered(question, textOf('{"a":1}', Uint8Array.of(5, 6)));

  it('opens as it was sealed', () => {
    expect(open(KEY, question, answer)).toEqual({ json: { a: 1 }, picture: Uint8Array.of(5, 6) });
  });

  it('fits no other question, key or direction, and no byte of it may be another', () => {
    const other = seal(KEY, 'code', 4, { json: { ask: 'week' }, picture: new Uint8Array() });
    expect(open(KEY, other, answer)).toBe(null);
    expect(open(bytes(32, 2), question, answer)).toBe(null);
    expect(open(KEY, question, answered(question, textOf('{}', Uint8Array.of()), KEY, 0))).toBe(null);
    for (const at of [0, 24, 40, answer.length - 1]) {
      const bent = Uint8Array.from(answer);
      bent[at] = (bent[at] ?? 0) ^ 1;
      expect(open(KEY, question, bent), `byte ${at}`).toBe(null);
    }
  });

  it.each([
    ['empty', () => new Uint8Array()],
    ['of lengths that lie', () => answered(question, Uint8Array.of(255, 255, 255, 255, 0, 0, 0, 0))],
    ['too short to hold lengths', () => answered(question, Uint8Array.of(0))],
    ['without JSON', () => answered(question, textOf('no', Uint8Array.of()))],
  ])('%s is none', (_, made) => {
    expect(open(KEY, question, made())).toBe(null);
  });
});

describe('base64url', () => {
  // RFC 4648: section 10, and the two characters that section 5 has of its own.
  it.each([
    ['', ''],
    ['Zg', 'f'],
    ['Zm9vYmE', 'fooba'],
  ])('“%s” is “%s”', (coded, plain) => {
    expect(fromBase64Url(coded)).toEqual(Uint8Array.from(Buffer.from(plain)));
  });

  it('knows its own two characters, and nothing else', () => {
    expect(fromBase64Url('-_-_')).toEqual(Uint8Array.of(0xfb, 0xff, 0xbf));
    expect(fromBase64Url('a b!')).toBe(null);
  });
});
