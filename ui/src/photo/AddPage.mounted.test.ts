import { fireEvent } from '@testing-library/dom';
import { describe, expect, it, vi } from 'vitest';
import type { Staged, WaitingPhoto } from '../bridge/types';
import { taskOf, viewOf } from '../pupil/sample';
import { described, type Mounted, settled, show } from '../testing/mounted';
import AddPage from './AddPage.svelte';
import { GONE, PhotoBridge, stagedOf, waitingOf } from './sample';

const VIEW = viewOf({ tasks: [taskOf({ id: 't' })] });

async function adding(waiting: WaitingPhoto[], photos: Staged[] = []) {
  const bridge = new PhotoBridge(photos);
  bridge.answers.waiting_photos = { photos: waiting };
  bridge.answers.look_again = stagedOf({ handle: 'one' });
  const screen = await show(AddPage, { view: VIEW, kept: vi.fn() }, { bridge });
  /** The program tells that other photographs wait. */
  const waits = async (photos: WaitingPhoto[]) => {
    bridge.answers.waiting_photos = { photos };
    bridge.events.tell({ event: 'changed', pupil: VIEW.pupil });
    await settled();
  };
  return { screen, bridge, waits };
}

const asked = (screen: Mounted) => [screen.all('combobox').length, screen.root.querySelectorAll('input[type=date]').length];
const gone = (screen: Mounted) => screen.all('group', 'This photograph waits no longer.');

describe('what a page answers', () => {
  it('is asked before a photograph is taken, and not of one that was', async () => {
    const { screen, bridge } = await adding([], [stagedOf()]);
    expect(asked(screen)).toEqual([1, 1]);
    fireEvent.change(screen.one('combobox'), { target: { value: '' } });
    const day = screen.root.querySelector('input[type=date]') as HTMLInputElement;
    fireEvent.input(day, { target: { value: '2026-01-15' } });
    await settled();
    await screen.choose('camera');
    expect(bridge.taken.map(({ writtenOn }) => writtenOn)).toEqual(['2026-01-15']);
    expect(asked(screen)).toEqual([0, 0]);
  });

  it('nor of one that waited', async () => {
    const { screen } = await adding([waitingOf('one')]);
    await screen.press('Look at it');
    expect(asked(screen)).toEqual([0, 0]);
  });
});

describe('a photograph of which another screen has disposed', () => {
  it('is laid down, with where to look', async () => {
    const { screen, waits } = await adding([waitingOf('one')]);
    await screen.press('Look at it');
    await waits([]);
    expect(screen.all('button', 'Keep this page')).toEqual([]);
    const [note] = gone(screen);
    expect(note && described(note)).toBe('It was kept or let go on another screen: look among the pages first.');
    expect(document.activeElement).toBe(note);
    expect(screen.said).not.toContain('gone');
  });

  it('is not one of which the list has not heard yet', async () => {
    const { screen, waits } = await adding([], [stagedOf({ handle: 'new' })]);
    await screen.choose('camera');
    await waits([]);
    expect([screen.all('button', 'Keep this page').length, gone(screen).length]).toEqual([1, 0]);
    await waits([waitingOf('new')]);
    await waits([]);
    expect([screen.all('button', 'Keep this page').length, gone(screen).length]).toEqual([0, 1]);
  });

  it('is laid down also where the program says so first', async () => {
    const { screen, bridge } = await adding([waitingOf('one')]);
    await screen.press('Look at it');
    bridge.refusals = { keep_page: GONE };
    await screen.press('Keep this page');
    expect([screen.all('button', 'Keep this page').length, gone(screen).length]).toEqual([0, 1]);
    // The list may not have heard of it yet.
    expect(screen.all('button', 'Look at it')).toEqual([]);
  });
});
