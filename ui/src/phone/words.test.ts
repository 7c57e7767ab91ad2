import { readdirSync, readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { phoneWords } from './words';

const FOLDER = new URL('.', import.meta.url).pathname;
const entries = Object.values(phoneWords).flatMap((part) => Object.entries<unknown>(part));

describe('what the page on a phone says', () => {
  it.each(entries)('%s is no empty text', (_, text) => {
    expect(String(typeof text === 'function' ? (text as (n: number) => string)(2) : text).trim()).not.toBe('');
  });

  it('is all said somewhere', () => {
    const files = readdirSync(FOLDER).filter((file) => !/words|test|types/.test(file));
    const source = files.map((file) => readFileSync(FOLDER + file, 'utf8')).join('\n');
    // Asked for by its own name, or out of a table by a key that the program sent.
    const byKey = ['expired', 'wrongKeys'];
    const unused = entries.map(([name]) => name).filter((name) => !new RegExp(`\\.${name}\\b`).test(source));
    expect(unused.filter((name) => !byKey.includes(name))).toEqual([]);
  });

  it('turns one and several as English does', () => {
    expect(phoneWords.page.turnedAway(1)).toContain('Another phone has tried to use your code and was turned away');
    expect(phoneWords.page.turnedAway(3)).toContain('Other phones have tried to use your code 3 times and were turned away');
    expect(phoneWords.panel.turnedAway(1)).toContain('Another phone has');
    expect(phoneWords.panel.turnedAway(2)).toContain('2 times');
  });
});
