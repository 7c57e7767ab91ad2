import { describe, expect, it } from 'vitest';
import { READY_TEXTS } from './ready-texts';

const ALL = Object.values(READY_TEXTS).flatMap((texts) => Object.entries(texts));
const lettersOf = (text: string) => new Set(text.toLowerCase().match(/[a-z]/g));

describe('texts ready for a task', () => {
  it.each(ALL)('%s fits the page line by line, in letters that every child is taught', (_, text) => {
    for (const line of text.split('\n')) {
      expect(line, line).toMatch(/^[A-Za-z][A-Za-z ,]*[A-Za-z ,.]*$/);
      expect(line.length, line).toBeLessThanOrEqual(32);
      expect(line, line).toBe(line.trim());
    }
    expect(text.endsWith('.')).toBe(true);
  });

  it.each(ALL)('%s has most letters of the alphabet', (_, text) => {
    expect(lettersOf(text).size).toBeGreaterThanOrEqual(20);
  });

  it('are of two lengths', () => {
    const lines = (texts: Record<string, string>) => Object.values(texts).map((text) => text.split('\n').length);
    expect(Math.max(...lines(READY_TEXTS.short))).toBeLessThanOrEqual(4);
    expect(Math.min(...lines(READY_TEXTS.medium))).toBeGreaterThanOrEqual(6);
  });

  it('between them have every letter', () => {
    expect(lettersOf(ALL.map(([, text]) => text).join('')).size).toBe(26);
  });
});
