import { describe, expect, it } from 'vitest';
import { fromBase64, toBase64 } from './base64';

const bytesOf = (text: string) => new TextEncoder().encode(text);

describe('base64', () => {
  // The test vectors of RFC 4648, section 10.
  it.each([
    ['', ''],
    ['f', 'Zg=='],
    ['fo', 'Zm8='],
    ['foo', 'Zm9v'],
    ['foob', 'Zm9vYg=='],
    ['fooba', 'Zm9vYmE='],
    ['foobar', 'Zm9vYmFy'],
  ])('of “%s” is “%s”', (plain, coded) => {
    expect(toBase64(bytesOf(plain))).toBe(coded);
    expect(fromBase64(coded)).toEqual(bytesOf(plain));
  });

  it('of many bytes is what the system library makes of them', () => {
    const bytes = Uint8Array.from({ length: 100_001 }, (_, at) => (at * 31 + (at >> 8)) & 255);
    const coded = toBase64(bytes);
    expect(coded).toBe(Buffer.from(bytes).toString('base64'));
    expect(Buffer.from(bytes).equals(fromBase64(coded))).toBe(true);
  });
});
