import { describe, expect, it } from 'vitest';
import { FakeBridge } from '../bridge/fake';
import type { PageRow, WaitingPhoto } from '../bridge/types';
import { stagedOf, waitingOf } from '../photo/sample';
import { pageOf, rowOf, taskOf, viewOf } from '../pupil/sample';
import { settled, show } from '../testing/mounted';
import ThisWeek from './ThisWeek.svelte';

const TASK = taskOf({ id: 't' });
const VIEW = viewOf({ tasks: [TASK] });
const ANSWER = pageOf({ task: 't', withTutor: true });

async function week(photos: WaitingPhoto[]) {
  const bridge = new FakeBridge();
  const has = (pages: PageRow[], photos: WaitingPhoto[]) => {
    bridge.answers.pupil = { ...VIEW, pages };
    bridge.answers.waiting_photos = { photos };
  };
  has([], photos);
  bridge.answers.pupils = { pupils: [rowOf({ pupil: VIEW.pupil })] };
  bridge.answers.notices = { notices: [] };
  bridge.answers.look_again = stagedOf({ handle: 'one', task: 't' });
  const screen = await show(ThisWeek, { chosen: VIEW.pupil }, { bridge, data: ['Ada', ...(TASK.text ?? [])] });
  const changes = async (pages: PageRow[], photos: WaitingPhoto[]) => {
    has(pages, photos);
    bridge.events.tell({ event: 'changed', pupil: VIEW.pupil });
    await settled();
  };
  return { screen, changes };
}

describe('the photograph of the week', () => {
  it('has the screen for itself while it is under way', async () => {
    const { screen } = await week([waitingOf('one')]);
    screen.one('heading', 'Copy this text');
    await screen.press('Look at it');
    expect(screen.all('heading', 'Copy this text')).toEqual([]);
    screen.one('heading', 'This page can be read.');
  });

  it('that was kept on another screen is told of, though its task is answered now', async () => {
    const { screen, changes } = await week([waitingOf('one')]);
    await screen.press('Look at it');
    await changes([ANSWER], []);
    const note = screen.one('group', 'This photograph waits no longer.');
    expect(document.activeElement).toBe(note);
    expect(screen.all('button', 'Keep this page')).toEqual([]);
    // And the page is there to be looked at.
    screen.one('heading', 'Pages');
    screen.one('link', 'See what the page shows');
  });

  it('is no more asked for once its task is answered', async () => {
    const { screen, changes } = await week([]);
    expect(screen.root.querySelectorAll('input[type=file]')).toHaveLength(2);
    await changes([ANSWER], []);
    expect(screen.root.querySelectorAll('input[type=file]')).toHaveLength(0);
  });
});
