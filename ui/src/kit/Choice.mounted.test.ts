import { fireEvent } from '@testing-library/dom';
import { describe, expect, it, vi } from 'vitest';
import { settled, show } from '../testing/mounted';
import { words } from '../words/words';
import Choice from './Choice.svelte';

const options = [
  { value: 'left', label: words.hands.left },
  { value: 'right', label: words.hands.right, means: words.general.saved },
];
const given = { legend: words.progress.kind, options };

describe('a choice', () => {
  it('is a group with a name, and tells which is chosen', async () => {
    const screen = await show(Choice, { ...given, value: 'right' });
    const group = screen.one('group', 'Which pages?');
    const radios = screen.all('radio', undefined, group) as HTMLInputElement[];
    expect(radios.map(({ checked }) => checked)).toEqual([false, true]);
    screen.one('radio', 'Left hand');
    // What an option means is read out with it.
    screen.one('radio', 'Right hand Saved.');
  });

  it('has a name also where that is not seen', async () => {
    const screen = await show(Choice, { ...given, value: null, hideLegend: true });
    screen.one('group', 'Which pages?');
    expect((screen.all('radio') as HTMLInputElement[]).some(({ checked }) => checked)).toBe(false);
  });

  it('tells what a person picks', async () => {
    const onpick = vi.fn();
    const screen = await show(Choice, { ...given, value: 'right', onpick });
    fireEvent.click(screen.one('radio', 'Left hand'));
    await settled();
    expect(onpick.mock.calls).toEqual([['left']]);
  });

  it('shares its radios with no other choice on the screen', async () => {
    const one = await show(Choice, { ...given, value: 'right' });
    const other = await show(Choice, { ...given, value: 'left' });
    const names = [one, other].map((screen) => (screen.all('radio')[0] as HTMLInputElement).name);
    expect(new Set(names).size).toBe(2);
  });
});
