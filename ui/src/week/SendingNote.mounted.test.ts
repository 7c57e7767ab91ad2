import { describe, expect, it } from 'vitest';
import { FakeBridge } from '../bridge/fake';
import type { Meeting } from '../bridge/types';
import { overviewOf, show, textOf } from '../testing/mounted';
import SendingNote from './SendingNote.svelte';

const off = overviewOf();
const on = overviewOf({ network: true });
const meeting = (problem: Meeting['problem']): Meeting => ({
  device: 'd'.repeat(32),
  name: 'Laptop',
  sentChanges: 1,
  receivedChanges: 0,
  sentBlobs: 1,
  receivedBlobs: 0,
  refusedChanges: 0,
  problem,
});
const away = { code: 'out-of-reach', message: 'a', whatToDo: 'b' };

function bridgeFor(...meetings: Meeting[]): FakeBridge {
  const bridge = new FakeBridge();
  bridge.answers.exchange = { meetings };
  bridge.answers.set_network = on;
  return bridge;
}

describe('a page that the tutor does not have yet', () => {
  it('is said to be safe, and what happens by itself', async () => {
    const screen = await show(SendingNote, { pages: 2 }, { overview: on });
    expect(textOf(screen.one('region', 'On its way to the tutor'))).toContain(
      '2 pages are safe here, and not with the tutor yet. That happens by itself once both devices are on and reach each other.',
    );
    screen.one('button', 'Send now');
    expect(screen.one('link', 'Send a file instead').getAttribute('href')).toBe('#/more');
  });

  it('is said to wait for the switch where that is off, and what the switch does', async () => {
    const screen = await show(SendingNote, { pages: 1 }, { overview: off });
    expect(textOf(screen.root)).toContain('The page is safe here, and not with the tutor yet. Devices meet only while you let them');
    expect(textOf(screen.root)).toContain('Others are turned away.');
  });

  it('switches it on and sends, and tells whoever cannot see it', async () => {
    const screen = await show(SendingNote, { pages: 1 }, { overview: off, bridge: bridgeFor(meeting(null)) });
    await screen.press('Switch it on and send');
    expect(screen.sent).toEqual([
      ['set_network', { on: true, relay: null }],
      ['exchange', { device: null }],
    ]);
    expect(screen.texts('status')).toEqual(['The devices have met.']);
    expect(screen.session.saying.places.join('')).not.toBe('');
    // Now it is on, and nothing is left to switch.
    screen.one('button', 'Send now');
  });

  it.each([
    [[meeting(away)], 'The tutor’s device was not reached just now. Nothing is lost: it is tried again by itself.'],
    [[], 'No device of the tutor’s is paired with this one yet.'],
    [[meeting(away), meeting(null)], 'The devices have met.'],
  ])('says how it went: %#', async (meetings, said) => {
    const screen = await show(SendingNote, { pages: 1 }, { overview: on, bridge: bridgeFor(...meetings) });
    await screen.press('Send now');
    expect(screen.texts('status')).toEqual([said]);
  });

  it('says what is wrong where it could not even be tried', async () => {
    const bridge = bridgeFor();
    bridge.refusals.exchange = { code: 'busy', message: 'It is busy.', whatToDo: 'Wait.' };
    const screen = await show(SendingNote, { pages: 1 }, { overview: on, bridge, data: ['It is busy.', 'Wait.'] });
    await screen.press('Send now');
    expect(screen.texts('alert')).toEqual(['It is busy. Wait.']);
    expect(screen.texts('status')).toEqual(['']);
  });
});
