import { describe, expect, it } from 'vitest';
import { Code } from './code.svelte';
import { type Detecting, qrReader } from './qr';

const picture = new Blob(['a picture']);

describe('a code that is pasted', () => {
  it('stands in the field, without what was copied around it', async () => {
    const code = new Code({ readText: async () => ' ab cd\n' });
    await code.paste();
    expect([code.text, code.got]).toEqual(['ab cd', 'pasted']);
  });

  it('that is nothing leaves what was typed', async () => {
    const code = new Code({ readText: async () => '  ' });
    code.text = 'ab';
    await code.paste();
    expect([code.text, code.got]).toEqual(['ab', 'nothingCopied']);
  });

  it('that is not allowed is said to be', async () => {
    const code = new Code({ readText: () => Promise.reject(new DOMException('no', 'NotAllowedError')) });
    code.text = 'ab';
    await code.paste();
    expect([code.text, code.got]).toEqual(['ab', 'noPaste']);
  });
});

describe('a code in a picture', () => {
  const opened = { is: 'opened' } as unknown as ImageBitmap;

  it('is read from what the picture shows', async () => {
    const code = new Code(undefined, async () => opened);
    code.reader = async (image) => (image === opened ? 'ab cd' : null);
    await code.read(picture);
    expect([code.text, code.got]).toEqual(['ab cd', 'read']);
  });

  it.each([
    ['shows none', async () => opened],
    ['is no picture', () => Promise.reject(new DOMException('no', 'InvalidStateError'))],
  ])('that %s leaves what was typed', async (_, open) => {
    const code = new Code(undefined, open);
    code.reader = async () => null;
    code.text = 'ab';
    await code.read(picture);
    expect([code.text, code.got]).toEqual(['ab', 'noCode']);
  });
});

describe('a reader of square pictures', () => {
  const detecting = (formats: string[], found: string[]) => {
    const asked: string[][] = [];
    class Found {
      static getSupportedFormats = async () => formats;
      constructor(options: { formats: string[] }) {
        asked.push(options.formats);
      }
      detect = async () => found.map((rawValue) => ({ rawValue }));
    }
    return [Found as Detecting, asked] as const;
  };

  it('is there where the browser has one, and reads nothing else', async () => {
    const [there, asked] = detecting(['aztec', 'qr_code'], ['ab cd', 'ef']);
    const read = await qrReader(there);
    expect(await read?.(picture)).toBe('ab cd');
    expect(asked).toEqual([['qr_code']]);
  });

  it('says where a picture shows none', async () => {
    const read = await qrReader(detecting(['qr_code'], [])[0]);
    expect(await read?.(picture)).toBe(null);
  });

  it('is none where the browser has none, or only seems to', async () => {
    expect(await qrReader(undefined)).toBe(null);
    expect(await qrReader(detecting([], [])[0])).toBe(null);
    const failing = Object.assign(detecting([], [])[0], { getSupportedFormats: () => Promise.reject(new Error('no')) });
    expect(await qrReader(failing)).toBe(null);
  });
});
