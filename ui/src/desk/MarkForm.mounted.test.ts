import { fireEvent } from '@testing-library/dom';
import { describe, expect, it, vi } from 'vitest';
import { FakeBridge } from '../bridge/fake';
import { KeepingDraft } from '../kit/keeping-draft.svelte';
import { described, settled, show } from '../testing/mounted';
import { plain } from '../testing/plain';
import { PAGE, PUPIL } from '../testing/samples';
import { Acts } from './acts';
import type { Tool } from './draft';
import { History } from './history.svelte';
import MarkForm from './MarkForm.svelte';
import { Marking } from './marking.svelte';

const page = { width: 210, height: 297 };
const where = { pupil: PUPIL, page: PAGE };

async function form(tool: Tool, aspect: 'gaps' | null = null) {
  const bridge = new FakeBridge();
  bridge.answers.draft = { text: null };
  bridge.answers.add_mark = { mark: 'e'.repeat(32) };
  const sentence = new KeepingDraft(bridge, 'mark');
  const marking = new Marking(new Acts(bridge, where, new History()), sentence);
  marking.choose(tool, { x: 100, y: 100 }, page, aspect);
  const saved = vi.fn();
  const screen = await show(MarkForm, { marking, sentence, page, shown: aspect, saved }, { bridge, data: ['Look here.', 'The disk is full.', 'Make room.'] });
  return { screen, marking, saved };
}
const added = (calls: FakeBridge['calls']) => calls.filter(([verb]) => verb === 'add_mark').map(([, input]) => input);
const disabled = (element: HTMLElement) => (element as HTMLButtonElement).disabled;

describe('a mark on the page', () => {
  it('says how it is drawn, also without a hand on the page', async () => {
    const { screen } = await form('box');
    expect(screen.texts('status')[0]).toBe('Draw a box, or tap two corners. The arrow keys move it.');
  });

  it('that is a note needs its words', async () => {
    const { screen } = await form('note');
    expect(described(screen.one('textbox', 'Your sentence'))).toBe('Needed here.');
    expect(disabled(screen.one('button', 'Put as “well done”'))).toBe(true);
    await screen.write('Your sentence', 'Look here.');
    expect(disabled(screen.one('button', 'Put as “well done”'))).toBe(false);
  });

  it('that is a box does well without', async () => {
    const { screen } = await form('box');
    screen.one('textbox', 'Your sentence (optional)');
    expect(disabled(screen.one('button', 'Put as “to work on”'))).toBe(false);
  });

  it.each([
    ['Put as “well done”', true],
    ['Put as “to work on”', false],
  ])('is put as “%s” says, and what was typed is gone', async (button, praise) => {
    const { screen, marking, saved } = await form('note', 'gaps');
    await screen.write('Your sentence', 'Look here.');
    await screen.press(button);
    await settled();
    expect(added(screen.sent)).toEqual([
      { ...where, shape: { shape: 'note', at: { x: 100, y: 100 } }, words: 'Look here.', aspect: 'gaps', praise },
    ]);
    expect(saved).toHaveBeenCalledOnce();
    expect([marking.tool, marking.sentence.text]).toEqual([null, '']);
  });

  it('is not put by the enter key, which does not say what it is', async () => {
    const { screen } = await form('box');
    fireEvent.submit(screen.root.querySelector('form') as HTMLFormElement);
    await settled();
    expect(added(screen.sent)).toEqual([]);
  });

  it('has sentences to start from in each of two groups, about what is shown', async () => {
    const { screen } = await form('box', 'gaps');
    const good = screen.one('group', 'Well done');
    await screen.press('The words stand well apart here.', good);
    const typed = screen.one('textbox', 'Your sentence (optional)') as HTMLTextAreaElement;
    expect(plain(typed.value)).toBe('The words stand well apart here.');
    screen.one('button', 'Leave room for one o before the next word.', screen.one('group', 'To work on'));
    expect((screen.one('combobox', 'About') as HTMLSelectElement).value).toBe('gaps');
  });

  it('has its place in figures, for whoever does not draw', async () => {
    const { screen, marking } = await form('note');
    fireEvent.change(screen.one('spinbutton', 'Left, mm'), { target: { value: '42' } });
    fireEvent.input(screen.one('spinbutton', 'Left, mm'), { target: { value: '42' } });
    await settled();
    expect(marking.shape).toEqual({ shape: 'note', at: { x: 42, y: 100 } });
  });

  it('that could not be kept says why and stays', async () => {
    const { screen, marking } = await form('box');
    screen.bridge.refusals.add_mark = { code: 'disk-full', message: 'The disk is full.', whatToDo: 'Make room.' };
    await screen.press('Put as “well done”');
    expect(screen.texts('alert')).toEqual(['The disk is full. Make room.']);
    expect(marking.tool).toBe('box');
  });

  it('is laid down by cancelling', async () => {
    const { screen, marking } = await form('box');
    await screen.press('Cancel');
    expect(marking.tool).toBeNull();
    expect(screen.all('textbox')).toEqual([]);
  });
});
