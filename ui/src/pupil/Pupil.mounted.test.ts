import { describe, expect, it } from 'vitest';
import { FakeBridge } from '../bridge/fake';
import { waitingOf } from '../photo/sample';
import { type Mounted, settled, show, textOf } from '../testing/mounted';
import Pupil from './Pupil.svelte';
import { rowOf, taskOf, viewOf } from './sample';

const TASK = taskOf({ setOn: '2999-01-01' });
const view = viewOf({ tasks: [TASK] });
const rowWith = (photosWaiting: number) => rowOf({ pupil: view.pupil, task: TASK, photosWaiting });
const photos = (count: number) => ({ photos: Array.from({ length: count }, (_, n) => waitingOf(String(n))) });

async function pupil(waiting: number) {
  const bridge = new FakeBridge();
  bridge.answers = {
    pupil: view,
    pupils: { pupils: [rowWith(waiting)] },
    waiting_photos: photos(waiting),
  };
  return { screen: await show(Pupil, { pupil: view.pupil }, { bridge, data: ['Ada', 'Unjoined', ...(TASK.text ?? [])] }), bridge };
}

const open = (screen: Mounted) => screen.one('button', 'Add a page').getAttribute('aria-expanded');
const cards = (screen: Mounted) => screen.all('button', 'Look at it').length;

describe('photographs of a pupil that wait', () => {
  it('are told at the head, and lie open', async () => {
    const { screen } = await pupil(2);
    const head = screen.one('heading', 'Ada').parentElement as HTMLElement;
    expect(textOf(head)).toContain('2 photographs wait to be kept');
    expect([open(screen), cards(screen)]).toEqual(['true', 2]);
    expect(textOf(screen.root)).not.toContain('Nothing waits.');
  });

  it('leave the place for another closed where there are none', async () => {
    const { screen } = await pupil(0);
    expect([open(screen), cards(screen)]).toEqual(['false', 0]);
    expect(textOf(screen.root)).not.toContain('to be kept');
    expect(textOf(screen.root)).toContain('Nothing waits.');
  });

  it('are open from the first only: after that it is as whoever sits here likes', async () => {
    const { screen, bridge } = await pupil(1);
    const hear = async (waiting: number) => {
      bridge.answers.pupils = { pupils: [rowWith(waiting)] };
      bridge.answers.waiting_photos = photos(waiting);
      bridge.events.tell({ event: 'changed', pupil: view.pupil });
      await settled();
    };
    // Another may be taken after the last was kept or let go.
    await hear(0);
    expect([open(screen), cards(screen)]).toEqual(['true', 0]);
    await screen.press('Add a page');
    await hear(2);
    expect(open(screen)).toBe('false');
  });
});
