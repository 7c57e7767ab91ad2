import { fireEvent } from '@testing-library/dom';
import { describe, expect, it, vi } from 'vitest';
import { FakeBridge } from '../bridge/fake';
import { described, overviewOf, settled, show, textOf } from '../testing/mounted';
import PaperKeyForm from './PaperKeyForm.svelte';

const key = { text: 'KEY', qrSvg: '<svg/>' };

async function form(has: boolean) {
  const bridge = new FakeBridge();
  bridge.answers.make_paper_key = key;
  bridge.answers.overview = overviewOf({ paperKey: true });
  const made = vi.fn();
  const screen = await show(PaperKeyForm, { made }, { bridge, overview: overviewOf({ paperKey: has }), data: ['A slip.', 'Look again.'] });
  const send = async () => {
    // What it would do by itself is to open the page anew.
    expect(fireEvent.submit(screen.root.querySelector('form') as HTMLFormElement)).toBe(false);
    await settled();
  };
  return { screen, made, send };
}

describe('the key on paper', () => {
  it('is said not to be there, and made without being asked for another', async () => {
    const { screen, made, send } = await form(false);
    expect(textOf(screen.one('region', 'Key on paper'))).toContain('You have no key on paper yet.');
    screen.one('button', 'Make the key');
    expect(screen.all('textbox')).toEqual([]);
    await send();
    expect(screen.sent[0]).toEqual(['make_paper_key', { before: null }]);
    expect(made.mock.calls).toEqual([[key]]);
    // From now on there is one.
    screen.one('button', 'Replace the key');
  });

  it('is not made twice at once', async () => {
    const { screen, made, send } = await form(false);
    let go = () => undefined as void;
    const waits = new Promise<void>((done) => (go = done));
    const call = screen.bridge.call.bind(screen.bridge);
    screen.bridge.call = async (verb, input) => {
      await waits;
      return call(verb, input);
    };
    const button = () => screen.one('button', 'Make the key') as HTMLButtonElement;
    await send();
    expect([button().disabled, made.mock.calls.length]).toEqual([true, 0]);
    go();
    await settled();
    expect(made).toHaveBeenCalledOnce();
    expect((screen.one('button', 'Replace the key') as HTMLButtonElement).disabled).toBe(false);
  });

  it('takes the place of another only for whoever holds that', async () => {
    const { screen, send } = await form(true);
    const before = screen.one('textbox', 'The key that is on the paper') as HTMLTextAreaElement;
    expect(before.required).toBe(true);
    expect(described(before)).toBe(
      'All of it, as it stands there. Then the new one takes its place, and the old one opens nothing more.',
    );
    await screen.write('The key that is on the paper', ' OLD\n');
    await send();
    expect(screen.sent[0]).toEqual(['make_paper_key', { before: 'OLD' }]);
    expect((screen.one('textbox', 'The key that is on the paper') as HTMLTextAreaElement).value).toBe('');
  });

  it('that was mistyped says so and leaves what was typed', async () => {
    const { screen, made, send } = await form(true);
    screen.bridge.refusals.make_paper_key = { code: 'paper-key-slip', message: 'A slip.', whatToDo: 'Look again.' };
    await screen.write('The key that is on the paper', 'OLT');
    await send();
    expect(screen.texts('alert')).toEqual(['A slip. Look again.']);
    expect((screen.one('textbox', 'The key that is on the paper') as HTMLTextAreaElement).value).toBe('OLT');
    expect(made).not.toHaveBeenCalled();
  });
});
