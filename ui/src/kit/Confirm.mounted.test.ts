import { fireEvent } from '@testing-library/dom';
import { describe, expect, it, vi } from 'vitest';
import { Refused } from '../bridge/bridge';
import { type Mounted, settled, show, textOf } from '../testing/mounted';
import { words } from '../words/words';
import Confirm from './Confirm.svelte';

const t = words.letGo;
const problem = { code: 'disk-full', message: 'The disk is full.', whatToDo: 'Make room.' };
const data = ['Ada', problem.message, problem.whatToDo];

const confirm = (act: () => Promise<void>, typed: string | null = null) =>
  show(
    Confirm,
    { label: words.devices.remove, title: words.devices.removeTitle('Ada'), points: [t.follow, t.noWayBack], typed, act },
    { data },
  );
const dialog = (screen: Mounted) => screen.one('dialog', 'Remove Ada?');
/** The button within the dialog that does it. */
const does = (screen: Mounted) => screen.one('button', 'Remove this device', dialog(screen)) as HTMLButtonElement;

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
    fireEvent.submit(does(screen).closest('form') as HTMLFormElement);
    await settled();
    expect(act).toHaveBeenCalledOnce();
    expect(screen.all('dialog')).toEqual([]);
  });

  it('puts the focus on the question', async () => {
    const screen = await confirm(async () => undefined);
    await screen.press('Remove this device');
    expect(textOf(document.activeElement as Element)).toBe('Remove Ada?');
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
    fireEvent.submit(does(screen).closest('form') as HTMLFormElement);
    await settled();
    expect(textOf(screen.one('alert', undefined, dialog(screen)))).toBe('The disk is full. Make room.');
    expect(does(screen).disabled).toBe(false);
  });
});
