import { fireEvent } from '@testing-library/dom';
import { describe, expect, it, vi } from 'vitest';
import type { Staged } from '../bridge/types';
import { described, type Mounted, settled, show } from '../testing/mounted';
import CornerForm from './CornerForm.svelte';
import { stagedOf } from './sample';

const staged = stagedOf({
  photoWidthPx: 1000,
  photoHeightPx: 1000,
  corners: [
    { x: 0.1, y: 0.2 },
    { x: 0.9, y: 0.2 },
    { x: 0.9, y: 0.8 },
    { x: 0.1, y: 0.8 },
  ],
});

async function form(of: Staged = staged) {
  const [use, leave] = [vi.fn(), vi.fn()];
  return { screen: await show(CornerForm, { staged: of, src: 'photo:h', use, leave }), use, leave };
}
const stands = (screen: Mounted) => screen.texts('status')[0];
const picture = (screen: Mounted) => screen.one('application', 'The photograph with the four corners of the sheet');

describe('corners of the sheet', () => {
  it('are told one at a time, by name and place', async () => {
    const { screen } = await form();
    expect(stands(screen)).toBe('Top left: 10 % from the left, 20 % from the top.');
    await screen.press('Next corner');
    expect(stands(screen)).toBe('Top right: 90 % from the left, 20 % from the top.');
    for (const _ of [1, 2, 3]) await screen.press('Next corner');
    expect(stands(screen)).toBe('Top left: 10 % from the left, 20 % from the top.');
  });

  it('are moved by buttons, and by arrow keys on the picture', async () => {
    const { screen } = await form();
    await screen.press('Large steps');
    expect(screen.one('button', 'Large steps').getAttribute('aria-pressed')).toBe('true');
    await screen.press('To the right');
    expect(stands(screen)).toBe('Top left: 13 % from the left, 20 % from the top.');
    fireEvent.keyDown(picture(screen), { key: 'ArrowDown' });
    await settled();
    expect(stands(screen)).toBe('Top left: 13 % from the left, 23 % from the top.');
    expect(described(picture(screen))).toBe('The arrow keys move the chosen corner.');
  });

  it('are used as they stand', async () => {
    const { screen, use } = await form();
    await screen.press('Large steps');
    await screen.press('Down');
    await screen.press('Use this');
    const [[at]] = use.mock.calls as [[{ x: number; y: number }[]]];
    expect(at[0]?.y).toBeCloseTo(0.23, 9);
    expect(at.slice(1)).toEqual(staged.corners?.slice(1));
  });

  it('can be left to the program, or as they were', async () => {
    const { screen, use, leave } = await form();
    await screen.press('Let the program look again');
    expect(use.mock.calls).toEqual([[null]]);
    await screen.press('Cancel');
    expect(leave).toHaveBeenCalledOnce();
    expect(use).toHaveBeenCalledOnce();
  });

  it('have somewhere to begin where no sheet was found', async () => {
    const { screen } = await form({ ...staged, found: false, corners: null });
    expect(stands(screen)).toBe('Top left: 10 % from the left, 10 % from the top.');
  });
});
