import { fireEvent } from '@testing-library/dom';
import { describe, expect, it, vi } from 'vitest';
import { FakeBridge } from '../bridge/fake';
import type { WaitingPhoto } from '../bridge/types';
import { show } from '../testing/mounted';
import { stagedOf } from './sample';
import TakePhoto from './TakePhoto.svelte';

const ABOUT = { pupil: 'p', task: null, kind: null, writtenOn: null };
const waits = (handle: string): WaitingPhoto => ({ handle, task: null, writtenOn: '2026-03-02', since: Date.now() });
const staged = stagedOf({ handle: 'one' });

async function place(waiting: WaitingPhoto[], more = true) {
  const bridge = new FakeBridge();
  bridge.answers = { look_again: staged, drop_photo: {}, keep_page: { page: 'new' } };
  const kept = vi.fn();
  return { screen: await show(TakePhoto, { about: ABOUT, waiting, more, kept }, { bridge }), kept };
}

describe('photographs that wait', () => {
  it('stand before the place for another, each with its picture', async () => {
    const { screen } = await place([waits('one'), waits('two')]);
    const pictures = screen.all('img', 'The photograph as it was taken');
    expect(pictures.map((picture) => picture.getAttribute('src'))).toEqual(['photo:one', 'photo:two']);
    expect(screen.texts('heading')).toEqual(['A photograph is waiting', 'A photograph is waiting']);
    expect(screen.root.querySelectorAll('input[type=file]')).toHaveLength(2);
  });

  it('are shown alone where no other may be taken', async () => {
    const { screen } = await place([waits('one')], false);
    expect(screen.all('button', 'Look at it')).toHaveLength(1);
    expect(screen.root.querySelectorAll('input[type=file]')).toHaveLength(0);
  });

  it('are looked at again and kept', async () => {
    const { screen, kept } = await place([waits('one'), waits('two')]);
    const [first] = screen.all('button', 'Look at it');
    first?.click();
    await screen.settled();
    expect(screen.texts('heading')).toEqual(['This page can be read.']);
    await screen.press('Keep this page');
    expect(kept.mock.calls).toEqual([['new']]);
    expect(screen.sent).toEqual([
      ['look_again', { handle: 'one' }],
      ['keep_page', { handle: 'one', despite: false }],
    ]);
    expect(screen.all('button', 'Look at it')).toHaveLength(1);
  });

  it('stay in the program when somebody goes elsewhere', async () => {
    const { screen } = await place([waits('one')]);
    await screen.press('Look at it');
    screen.root.remove();
    await screen.settled();
    expect(screen.sent).toEqual([['look_again', { handle: 'one' }]]);
  });

  it('are let go in two steps, with what that means', async () => {
    const { screen } = await place([waits('one')]);
    await screen.press('Do not keep it');
    expect(screen.sent).toEqual([]);
    expect(screen.texts('listitem')).toEqual(['It is in no book yet. Once it is gone there is no way back.']);
    const dialog = screen.one('dialog');
    fireEvent.submit(screen.one('button', 'Do not keep it', dialog).closest('form') as HTMLFormElement);
    await screen.settled();
    expect(screen.sent).toEqual([['drop_photo', { handle: 'one' }]]);
  });
});
