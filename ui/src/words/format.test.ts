import { describe, expect, it } from 'vitest';
import { bytes, change, day, figureText, number, quantity, ruling, when, withDoubt } from './format';

describe('figures in words', () => {
  it('writes a share as per cent', () => {
    expect(quantity(0.714, 'share')).toBe('71 %');
  });

  it('writes a true minus sign, and none before nought', () => {
    expect(number(-3.14, 'degrees')).toBe('−3.1');
    expect(number(-0.04, 'degrees')).toBe('0.0');
  });

  it('writes the doubt with as many places as the value', () => {
    expect(withDoubt(2.914, 0.052, 'mm')).toBe('2.91 ± 0.05 mm');
  });

  it('takes more places where the doubt would read as nought', () => {
    expect(withDoubt(0.0312, 0.0041, 'degrees')).toBe('0.031 ± 0.004°');
    expect(withDoubt(2, 0, 'mm')).toBe('2.00 ± 0.00 mm');
  });

  it('keeps small changes visible and shows their sign', () => {
    expect(change(-0.00123, 'ratio')).toBe('−0.0012');
    expect(change(0.5, 'share')).toBe('+50');
  });

  it('gives the reason where there is no figure', () => {
    const figure = { name: 'offset', aspect: 'baseline', unit: 'mm', value: null, se: null, spread: null, n: null, because: 'noRuling', before: null, byHand: false } as const;
    expect(figureText(figure)).toBe('Not measured: no printed line was found to hold it against.');
  });
});

describe('sizes in words', () => {
  it.each([
    [0, '0 kB'],
    [1, '1 kB'],
    [1499, '1 kB'],
    [1500, '2 kB'],
    [999_499, '999 kB'],
    [999_500, '1 MB'],
    [1_249_000, '1.2 MB'],
    [99_949_000, '99.9 MB'],
    [99_950_000, '100 MB'],
    [1_234_567_890, '1,235 MB'],
  ])('%d bytes are %s', (size, text) => {
    expect(bytes(size)).toBe(text);
  });
});

describe('moments in words', () => {
  const now = new Date(2026, 2, 4, 9, 30).getTime();
  it.each([
    [new Date(2026, 2, 4, 9, 5), 'today at 09:05'],
    [new Date(2026, 2, 4, 0, 0), 'today at 00:00'],
    [new Date(2026, 2, 3, 23, 59), 'yesterday at 23:59'],
    [new Date(2026, 2, 2, 9, 30), '2 days ago'],
    [new Date(2026, 1, 26, 23, 59), '6 days ago'],
    [new Date(2026, 1, 25, 9, 30), 'on 25 February 2026'],
    [new Date(2026, 2, 5, 9, 30), 'on 5 March 2026'],
  ])('%s is %s', (at, text) => {
    expect(when(at.getTime(), now)).toBe(text);
  });
});

describe('days and rulings in words', () => {
  it('writes a day out', () => {
    expect(day('2026-03-04')).toBe('4 March 2026');
  });

  it('names each ruling', () => {
    expect(ruling({ kind: 'lines', pitch: 6.35 })).toBe('lines 6.35 mm apart');
    expect(ruling({ kind: 'squares', side: 5, every: 2 })).toBe('5 mm squares, writing on every second line');
  });
});
