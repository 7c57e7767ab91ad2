import { describe, expect, it } from 'vitest';
import { NewPassphrase } from './passphrase.svelte';

function typed(first: string, again: string): NewPassphrase {
  const passphrase = new NewPassphrase();
  passphrase.first = first;
  passphrase.again = again;
  return passphrase;
}

describe('a passphrase typed twice', () => {
  it('holds only when both are the same', () => {
    expect(typed('four odd words', 'four odd words').same).toBe(true);
    for (const again of ['', 'four odd word', 'Four odd words', 'four odd words ']) {
      expect(typed('four odd words', again).same, again).toBe(false);
    }
  });

  it('is none while nothing is typed', () => {
    expect(typed('', '').same).toBe(false);
  });

  it('is said to differ only once typing on cannot help', () => {
    expect(typed('four odd words', '').differs).toBe(false);
    expect(typed('four odd words', 'four odd').differs).toBe(false);
    expect(typed('four odd words', 'four old').differs).toBe(true);
    expect(typed('four odd words', 'four odd words!').differs).toBe(true);
  });
});
