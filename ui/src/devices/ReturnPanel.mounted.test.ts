import { fireEvent } from '@testing-library/dom';
import { describe, expect, it, vi } from 'vitest';
import { FakeBridge } from '../bridge/fake';
import type { DeviceRow, Meeting } from '../bridge/types';
import { described, type Mounted, overviewOf, settled, show, textOf } from '../testing/mounted';
import Board from './Board.svelte';
import ReturnPanel from './ReturnPanel.svelte';

const away = { code: 'not-paired', message: 'They are no longer paired.', whatToDo: 'Pair them again.' };
const far = { code: 'not-reachable', message: 'It cannot be reached.', whatToDo: 'Open it there.' };
const elsewhere = { code: 'paper-key-elsewhere', message: 'Nothing holds to this key.', whatToDo: 'Compare it.' };
const data = [away, far, elsewhere].flatMap(({ message, whatToDo }) => [message, whatToDo]).concat('Jo', 'Wren', 'KEY');

const meeting = (problem: Meeting['problem']): Meeting => ({
  device: 'd'.repeat(32),
  name: 'Jo',
  sentChanges: 3,
  receivedChanges: 2,
  sentBlobs: 0,
  receivedBlobs: 0,
  refusedChanges: 0,
  problem,
});

async function panel(by: Meeting | null, ...answer: Meeting[]) {
  const bridge = new FakeBridge();
  bridge.answers.return_by_paper = { meetings: answer };
  const refresh = vi.fn();
  return { screen: await show(ReturnPanel, { by, refresh }, { bridge, data }), refresh };
}
const key = (screen: Mounted) => screen.one('textbox', 'The key on paper') as HTMLTextAreaElement;

async function comeBack(screen: Mounted) {
  await screen.write('The key on paper', ' KEY\n');
  fireEvent.submit(key(screen).form as HTMLFormElement);
  await settled();
}

describe('coming back by the key on paper', () => {
  it('says what happens, what stays, and what becomes of the key that is typed', async () => {
    const { screen } = await panel(null);
    expect(screen.texts('listitem')).toEqual([
      'Devices in reach are shown the key, and let this device in again. The others hear of it from them, or when you do this once more.',
      'Nothing on this device is lost, and the key stays as it is.',
    ]);
    expect(described(key(screen))).toBe('All of it, as it stands there. It is used now and kept nowhere.');
    expect(screen.all('status')).toEqual([]);
  });

  it('is let in again, leaves no key in the field, and is told what to do next', async () => {
    const { screen, refresh } = await panel(meeting(away), meeting(null));
    expect(screen.texts('status')).toEqual([
      'Jo lets this device in no longer. If you did not want that, come back by your key on paper.',
    ]);
    await comeBack(screen);
    expect(screen.sent).toEqual([['return_by_paper', { paperKey: 'KEY' }]]);
    expect(textOf(screen.root)).toContain('This device is let in again. Jo: 3 sent, 2 received.');
    expect(textOf(screen.root)).toContain('If a device of yours was stolen, remove it now, under Other devices.');
    expect([key(screen).value, screen.all('status')]).toEqual(['', []]);
    expect(refresh).toHaveBeenCalledOnce();
    expect(screen.session.saying.places.join('')).not.toBe('');
  });

  it('keeps the key in the field where nobody was reached', async () => {
    const { screen } = await panel(null, meeting(far));
    await comeBack(screen);
    expect(textOf(screen.root)).toContain('No device was reached, so nothing has changed yet.');
    expect(textOf(screen.root)).not.toContain('remove it now');
    expect(key(screen).value.trim()).toBe('KEY');
  });

  it('by another key is refused, and says so', async () => {
    const { screen, refresh } = await panel(null);
    screen.bridge.refusals.return_by_paper = elsewhere;
    await comeBack(screen);
    expect(screen.texts('alert')).toEqual(['Nothing holds to this key. Compare it.']);
    expect(key(screen).value.trim()).toBe('KEY');
    expect(refresh).not.toHaveBeenCalled();
  });

  it('asks for nothing while no key was typed', async () => {
    const { screen } = await panel(null, meeting(null));
    fireEvent.submit(key(screen).form as HTMLFormElement);
    await settled();
    expect(screen.sent).toEqual([]);
  });
});

const jo: DeviceRow = {
  device: 'd'.repeat(32),
  name: 'Jo',
  role: 'parent',
  pupils: [],
  lastMet: null,
  addresses: [],
  removed: false,
};

async function board(role: 'tutor' | 'parent', problem: Meeting['problem']) {
  const bridge = new FakeBridge();
  bridge.answers.exchange = { meetings: [meeting(problem)] };
  bridge.answers.pairing = { stage: 'idle' };
  const device = { id: 'f'.repeat(32), role, name: 'Wren' };
  const given = { devices: [jo], pupils: [], pupil: null, role, refresh: () => undefined };
  const screen = await show(Board, given, { bridge, overview: overviewOf({ device, network: true }), data });
  const fold = () => screen.root.querySelector<HTMLDetailsElement>('[data-return]');
  return { screen, fold };
}

describe('a device that another lets in no longer', () => {
  it('is shown the way back as soon as it hears of it', async () => {
    const { screen, fold } = await board('tutor', away);
    expect(fold()?.open).toBe(false);
    await screen.press('Exchange now');
    expect(fold()?.open).toBe(true);
  });

  it('is not suspected where the other is only out of reach', async () => {
    const { screen, fold } = await board('tutor', far);
    await screen.press('Exchange now');
    expect(fold()?.open).toBe(false);
  });

  it('of a family has no such key', async () => {
    const { fold } = await board('parent', away);
    expect(fold()).toBeNull();
  });
});
