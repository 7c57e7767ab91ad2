import { fireEvent } from '@testing-library/dom';
import { describe, expect, it } from 'vitest';
import { FakeBridge } from '../bridge/fake';
import type { Practised } from '../bridge/types';
import { settled, show } from '../testing/mounted';
import TakeBack from './TakeBack.svelte';

const entry = (id: string, day: string, minutes: number): Practised => ({ id, day, minutes, task: null });
const LOG = [entry('two', '2026-03-05', 10), entry('one', '2026-03-04', 15)];

const list = (practised: Practised[], bridge = new FakeBridge()) => show(TakeBack, { pupil: 'p', practised }, { bridge });

describe('practice noted by a slip', () => {
  it('is taken back in two steps', async () => {
    const bridge = new FakeBridge();
    bridge.answers = { drop_practised: {} };
    const screen = await list(LOG, bridge);
    await screen.press('Take back 15 minutes of 4 Mar');
    expect(screen.sent).toEqual([]);
    const dialog = screen.one('dialog', 'Take this practice back?');
    expect(screen.texts('listitem', dialog)).toEqual(['15 minutes on 4 March 2026 count no more, here and with the tutor.']);
    fireEvent.submit(screen.one('button', 'Take back 15 minutes of 4 Mar', dialog).closest('form') as HTMLFormElement);
    await settled();
    expect(screen.sent).toEqual([['drop_practised', { pupil: 'p', practised: 'one' }]]);
    expect(screen.all('dialog')).toEqual([]);
  });

  it('that cannot be taken back is told where it was asked', async () => {
    const bridge = new FakeBridge();
    bridge.refusals = { drop_practised: { code: 'disk-full', message: 'The disk is full.', whatToDo: 'Make room.' } };
    const screen = await show(TakeBack, { pupil: 'p', practised: LOG }, { bridge, data: ['The disk is full.', 'Make room.'] });
    await screen.press('Take back 10 minutes of 5 Mar');
    const dialog = screen.one('dialog', 'Take this practice back?');
    fireEvent.submit(screen.one('button', 'Take back 10 minutes of 5 Mar', dialog).closest('form') as HTMLFormElement);
    await settled();
    expect(screen.texts('alert', dialog)).toEqual(['The disk is full. Make room.']);
  });

  it('is offered for the newest only, and where there is any', async () => {
    const many = Array.from({ length: 20 }, (_, at) => entry(`e${at}`, '2026-03-05', at + 1));
    expect((await list(many)).all('button')).toHaveLength(12);
    expect((await list([])).root.querySelector('details')).toBe(null);
  });
});
