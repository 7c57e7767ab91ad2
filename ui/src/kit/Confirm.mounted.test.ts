import { fireEvent } from '@testing-library/dom';
import { describe, expect, it, vi } from 'vitest';
import { Refused } from '../bridge/bridge';
import { type Mounted, settled, show, textOf } from '../testing/mounted';
import { words } from '../words/words';
import Confirm from './Confirm.svelte';

const t = words.letGo;
const problem = { code: 'disk-full', message: 'The disk is full.', whatToDo: 'Make room.' };
const data = ['Ada', problem.message, problem.whatToDo];

const confirm = (act: () => Promise<void>, typed: string | null = null, disabled = false) =>
  show(
    Confirm,
    { label: words.devices.remove, title: words.devices.removeTitle('Ada'), points: [t.follow, t.noWayBack], typed, disabled, act },
    { data },
  );
const dialog = (screen: Mounted) => screen.one('dialog', 'Remove Ada?');
/** The button within the dialog that does it. */
const does = (screen: Mounted) => screen.one('button', 'Remove this device', dialog(screen)) as HTMLButtonElement;
const send = async (screen: Mounted) => {
  fireEvent.submit(does(screen).closest('form') as HTMLFormElement);
  await settled();
};
/** Whether the dialog may be left now, as by the Esc key. */
const mayLeave = (screen: Mounted) => dialog(screen).dispatchEvent(new Event('cancel', { cancelable: true }));

describe('what cannot be undone', () => {
  it('is done only after it was asked about once more', async () => {
    const act = vi.fn(async () => undefined);
    const screen = await confirm(act);
    expect(screen.all('dialog')).toEqual([]);
    await screen.press('Remove this device');
    expect(screen.texts('listitem', dialog(screen))).toEqual([
      'Other devices follow when they next meet this one.',
      'There is no way back.',
    ]);
    expect(act).not.toHaveBeenCalled();
    await send(screen);
    expect(act).toHaveBeenCalledOnce();
    expect(screen.all('dialog')).toEqual([]);
  });

  it('puts the focus on the question', async () => {
    const screen = await confirm(async () => undefined);
    await screen.press('Remove this device');
    expect(textOf(document.activeElement as Element)).toBe('Remove Ada?');
    // Each time anew, also after it was left.
    await screen.press('Cancel', dialog(screen));
    screen.one('button', 'Remove this device').focus();
    await screen.press('Remove this device');
    expect(textOf(document.activeElement as Element)).toBe('Remove Ada?');
  });

  it('leaves the focus with the screen where the button goes with what was removed', async () => {
    const screen = await confirm(async () => undefined);
    screen.root.id = 'content';
    screen.root.tabIndex = -1;
    await screen.press('Remove this device');
    await send(screen);
    expect(document.activeElement?.id).toBe('content');
  });

  it('cannot be begun where it may not be done', async () => {
    const screen = await confirm(async () => undefined, null, true);
    expect((screen.one('button', 'Remove this device') as HTMLButtonElement).disabled).toBe(true);
  });

  it('is neither left nor done twice while it is under way', async () => {
    let end = () => undefined as void;
    const screen = await confirm(() => new Promise((done) => (end = done)));
    await screen.press('Remove this device');
    expect([screen.all('status', undefined, dialog(screen)).length, mayLeave(screen)]).toEqual([0, true]);
    await send(screen);
    expect(textOf(screen.one('status', undefined, dialog(screen)))).toBe('One moment…');
    expect([does(screen).disabled, (screen.one('button', 'Cancel') as HTMLButtonElement).disabled]).toEqual([true, true]);
    expect(mayLeave(screen)).toBe(false);
    end();
    await settled();
    expect(screen.all('dialog')).toEqual([]);
  });

  it('waits for the name to be typed', async () => {
    const act = vi.fn(async () => undefined);
    const screen = await confirm(act, 'Ada');
    await screen.press('Remove this device');
    expect(does(screen).disabled).toBe(true);
    await screen.write('Type Ada to confirm', 'Bo');
    expect(does(screen).disabled).toBe(true);
    await screen.write('Type Ada to confirm', ' Ada ');
    expect(does(screen).disabled).toBe(false);
    // Asked another time, it is typed another time.
    await screen.press('Cancel', dialog(screen));
    await screen.press('Remove this device');
    expect(does(screen).disabled).toBe(true);
  });

  it('is left alone by cancelling', async () => {
    const act = vi.fn(async () => undefined);
    const screen = await confirm(act);
    await screen.press('Remove this device');
    await screen.press('Cancel', dialog(screen));
    expect(screen.all('dialog')).toEqual([]);
    expect(act).not.toHaveBeenCalled();
  });

  it('stays open and says why, where it came to nothing', async () => {
    const screen = await confirm(() => Promise.reject(new Refused(problem)));
    await screen.press('Remove this device');
    await send(screen);
    expect(textOf(screen.one('alert', undefined, dialog(screen)))).toBe('The disk is full. Make room.');
    expect(does(screen).disabled).toBe(false);
  });
});
