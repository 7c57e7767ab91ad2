import { describe, expect, it, vi } from 'vitest';
import type { Problem, Staged, WaitingPhoto } from '../bridge/types';
import { taskOf } from '../pupil/sample';
import { described, show, textOf } from '../testing/mounted';
import { PhotoBridge, stagedOf, waitingOf } from './sample';
import TakePhoto from './TakePhoto.svelte';
import { Taking } from './taking.svelte';

const ABOUT = { pupil: 'p', task: null, kind: null, writtenOn: null };
const TASK = taskOf({ id: 't', setOn: '2026-03-01', kind: 'dictated' });
const REFUSED: Problem = { code: 'heic', message: 'This is no picture.', whatToDo: 'Choose another.' };

interface Given {
  waiting?: WaitingPhoto[];
  more?: boolean;
  /** What each photograph comes to. */
  photos?: (Staged | Problem)[];
}

async function place({ waiting = [], more = true, photos = [] }: Given) {
  const bridge = new PhotoBridge(photos);
  bridge.answers.look_again = stagedOf({ handle: 'one' });
  const kept = vi.fn();
  const given = { taking: new Taking(bridge), about: ABOUT, waiting, tasks: [TASK], more, kept };
  const data = [REFUSED.message, REFUSED.whatToDo];
  return { screen: await show(TakePhoto, given, { bridge, data }), kept, bridge };
}

const focused = () => textOf(document.activeElement as Element);

describe('photographs that wait', () => {
  it('stand before the place for another, each with its small picture', async () => {
    const { screen } = await place({ waiting: [waitingOf('one'), waitingOf('two')] });
    const pictures = screen.all('img', 'The photograph as it was taken');
    expect(pictures.map((picture) => picture.getAttribute('src'))).toEqual(['small:one', 'small:two']);
    const [last] = screen.all('heading').slice(-1);
    const input = screen.root.querySelector('input[type=file]') as Element;
    expect(last?.compareDocumentPosition(input)).toBe(Node.DOCUMENT_POSITION_FOLLOWING);
    expect(screen.root.querySelectorAll('input[type=file]')).toHaveLength(2);
  });

  it('are told apart by what they answer and since when they wait, and so are their buttons', async () => {
    const yesterday = Date.now() - 86_400_000;
    const { screen } = await place({
      waiting: [
        waitingOf('one', { task: 't', kind: 'dictated' }),
        waitingOf('two', { kind: 'ownWords', writtenOn: '2026-01-15' }),
        waitingOf('three', { kind: 'ownWords', writtenOn: '2026-01-15', since: yesterday }),
        // A task that is not here.
        waitingOf('four', { task: 'x' }),
      ],
    });
    expect(screen.texts('heading')).toEqual([
      'Waiting: Dictated, set on 1 March 2026 · written on 2 March 2026',
      'Waiting: Own words · written on 15 January 2026',
      'Waiting: Own words · written on 15 January 2026',
      'Waiting: Copied · written on 2 March 2026',
    ]);
    for (const name of ['Look at it', 'Do not keep it']) {
      const told = screen.all('button', name).map(described);
      expect(told[0]).toMatch(/^Waiting: Dictated, set on 1 March 2026 · .* This photograph was added today at \d\d:\d\d and is not kept yet\.$/);
      expect(told[2]).toMatch(/added yesterday at/);
      expect(new Set(told).size).toBe(4);
    }
  });

  it('are shown alone where no other may be taken', async () => {
    const { screen } = await place({ waiting: [waitingOf('one')], more: false });
    expect(screen.all('button', 'Look at it')).toHaveLength(1);
    expect(screen.root.querySelectorAll('input[type=file]')).toHaveLength(0);
  });

  it('are looked at again and kept', async () => {
    const { screen, kept } = await place({ waiting: [waitingOf('one'), waitingOf('two')] });
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
    const { screen } = await place({ waiting: [waitingOf('one')] });
    await screen.press('Look at it');
    await screen.unmount();
    await screen.settled();
    expect(screen.root.isConnected).toBe(false);
    expect(screen.sent).toEqual([['look_again', { handle: 'one' }]]);
  });
});

describe('a photograph that is let go', () => {
  it('is so in two steps, with what that means', async () => {
    const { screen } = await place({ waiting: [waitingOf('one')] });
    await screen.press('Do not keep it');
    expect(screen.sent).toEqual([]);
    expect(screen.texts('listitem')).toEqual(['It is in no book yet. Once it is gone there is no way back.']);
    await screen.confirm('Do not keep it');
    expect(screen.sent).toEqual([['drop_photo', { handle: 'one' }]]);
    expect(screen.said).toBe('The photograph is gone.');
    expect(screen.all('button', 'Look at it')).toEqual([]);
  });

  it.each([true, false])('is asked about also while it is looked at, fit: %s', async (fit) => {
    const { screen } = await place({ photos: [stagedOf({ fit })] });
    await screen.choose('camera');
    await screen.press('Do not keep it');
    expect(screen.sent).toEqual([]);
    await screen.confirm('Do not keep it');
    expect(screen.sent).toEqual([['drop_photo', { handle: 'h1' }]]);
    expect(screen.all('heading')).toEqual([]);
  });

  it('stays, with the reason within the question, where it cannot be', async () => {
    const { screen, bridge } = await place({ photos: [stagedOf()] });
    bridge.refusals = { drop_photo: REFUSED };
    await screen.choose('camera');
    await screen.press('Do not keep it');
    await screen.confirm('Do not keep it');
    screen.one('alert', undefined, screen.one('dialog'));
    expect(screen.texts('heading')).toContain('This page can be read.');
  });
});

describe('a photograph just taken', () => {
  it('says what it answers, and what stays on this device until it is kept', async () => {
    const { screen } = await place({ photos: [stagedOf({ task: 't', kind: 'dictated', writtenOn: '2026-03-04' })] });
    await screen.choose('camera');
    expect(textOf(screen.root)).toContain('For: Dictated, set on 1 March 2026 · written on 4 March 2026');
    expect(textOf(screen.root)).toContain('the whole photograph, room and all, stays on this device, encrypted');
    expect(textOf(screen.root)).not.toContain('still waits too');
  });

  it('that shows less than the one before says that this stays, and leads back to it', async () => {
    const { screen } = await place({
      waiting: [waitingOf('one')],
      photos: [stagedOf({ handle: 'two', found: false, fit: false, earlierStays: true })],
    });
    await screen.press('Look at it');
    await screen.choose('camera');
    expect(textOf(screen.root)).toContain('The photograph before this one still waits too: let this one go to come back to it.');
    await screen.press('Do not keep it');
    await screen.confirm('Do not keep it');
    expect(screen.sent.at(-1)).toEqual(['drop_photo', { handle: 'two' }]);
    expect(screen.root.querySelector('[data-waits=one]')).not.toBeNull();
    expect(focused()).toBe('Waiting: Copied · written on 2 March 2026');
  });

  it('that is refused is told first of all, read out by taking the focus', async () => {
    const { screen } = await place({ waiting: [waitingOf('one')], photos: [REFUSED] });
    await screen.choose('camera');
    const note = screen.one('group', REFUSED.message);
    expect(document.activeElement).toBe(note);
    expect(described(note)).toBe(REFUSED.whatToDo);
    // An alert would be read out by itself as well.
    expect(screen.all('alert')).toEqual([]);
    expect(note.compareDocumentPosition(screen.one('heading'))).toBe(Node.DOCUMENT_POSITION_FOLLOWING);
  });

  it('whose refusal comes while somebody is at something else leaves them there', async () => {
    const { screen } = await place({ photos: [REFUSED] });
    const field = document.body.appendChild(document.createElement('input'));
    const chosen = screen.choose('camera');
    field.focus();
    await chosen;
    expect(textOf(screen.one('alert'))).toBe(`${REFUSED.message} ${REFUSED.whatToDo}`);
    expect(document.activeElement).toBe(field);
    field.remove();
  });
});
