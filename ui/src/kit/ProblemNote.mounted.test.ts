import { describe, expect, it, vi } from 'vitest';
import { inPseudo, show, textOf } from '../testing/mounted';
import ProblemNote from './ProblemNote.svelte';

// The program's own sentences do not come through the catalogue of the screens.
const problem = { code: 'disk-full', message: 'The disk is full.', whatToDo: 'Make room and try again.' };
const data = [problem.message, problem.whatToDo];

describe('what went wrong', () => {
  it('is told at once, with what to do', async () => {
    const screen = await show(ProblemNote, { problem }, { data });
    expect(textOf(screen.one('alert'))).toBe('The disk is full. Make room and try again.');
    expect(screen.all('button')).toEqual([]);
  });

  it('can be tried again where that is of use', async () => {
    const again = vi.fn();
    const screen = await show(ProblemNote, { problem, again }, { data });
    await screen.press('Try again');
    expect(again).toHaveBeenCalledOnce();
  });

  it('is no empty note where nothing went wrong', async () => {
    const screen = await show(ProblemNote, { problem: null, again: () => undefined });
    expect(screen.root.children).toHaveLength(0);
  });

  it('is read in both languages', async () => {
    const screen = await show(ProblemNote, { problem, again: () => undefined }, { data });
    expect(screen.one('button').textContent?.startsWith('⟦')).toBe(inPseudo);
  });
});
