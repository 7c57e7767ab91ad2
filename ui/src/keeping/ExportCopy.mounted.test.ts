import { describe, expect, it } from 'vitest';
import { inPseudo, show, textOf } from '../testing/mounted';
import ExportCopy from './ExportCopy.svelte';

describe('the copy of everything', () => {
  it('says nothing of what it lacks where it lacks nothing', async () => {
    const screen = await show(ExportCopy, { pupil: '0a1b', lacks: { pages: 0, newer: false } });
    expect(screen.root.querySelector('[data-lacks]')).toBeNull();
    expect(screen.root.querySelector('a[download]')?.getAttribute('href')).toContain('0a1b');
  });

  it.each([
    [{ pages: 1, newer: false }, ['1 page has']],
    [{ pages: 3, newer: false }, ['3 pages have']],
    [{ pages: 2, newer: true }, ['2 pages have', 'A newer version']],
  ])('says what it would lack, and can be saved all the same: %#', async (lacks, said) => {
    const screen = await show(ExportCopy, { pupil: '0a1b', lacks });
    const told = [...screen.root.querySelectorAll('[data-lacks]')].map((line) => textOf(line));
    expect(told).toHaveLength(said.length);
    if (!inPseudo) told.forEach((line, at) => expect(line.startsWith(said[at] ?? '')).toBe(true));
    expect(screen.root.querySelector('a[download]')).not.toBeNull();
  });
});
