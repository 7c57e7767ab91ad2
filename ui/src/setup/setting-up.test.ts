import { describe, expect, it } from 'vitest';
import { FakeBridge } from '../bridge/fake';
import type { SetUpCheck } from '../bridge/types';
import { lookedThisWeek, SET_UP_ITEMS, SettingUp } from './setting-up.svelte';

function settingUp(): [SettingUp, FakeBridge] {
  const bridge = new FakeBridge();
  bridge.answers = { add_set_up: {} };
  return [new SettingUp(bridge, 'p'), bridge];
}

const check = (day: string): SetUpCheck => ({ id: day, day, fine: ['feet'], notYet: [] });

describe('a look at how the child sits', () => {
  it('is all fine in one press', async () => {
    const [setUp, bridge] = settingUp();
    expect(await setUp.save()).toBe(true);
    expect(bridge.calls).toEqual([['add_set_up', { pupil: 'p', fine: [...SET_UP_ITEMS], notYet: [] }]]);
  });

  it('keeps what was answered and leaves out the rest', async () => {
    const [setUp, bridge] = settingUp();
    setUp.say('light', 'fine');
    setUp.say('feet', 'notYet');
    setUp.say('seat', 'fine');
    setUp.say('hold', 'fine');
    setUp.say('hold', 'fine');
    await setUp.save();
    expect(bridge.calls).toEqual([['add_set_up', { pupil: 'p', fine: ['seat', 'light'], notYet: ['feet'] }]]);
    expect(setUp.begun).toBe(false);
  });

  it('asks about each of the seven once', () => {
    expect([...SET_UP_ITEMS].sort()).toEqual(['feet', 'hold', 'light', 'otherHand', 'paper', 'seat', 'table']);
  });

  it('loses no answer when it cannot be kept', async () => {
    const [setUp, bridge] = settingUp();
    const full = { code: 'disk-full', message: 'a', whatToDo: 'b' };
    bridge.refusals = { add_set_up: full };
    setUp.say('feet', 'notYet');
    expect(await setUp.save()).toBe(false);
    expect([setUp.answers.feet, setUp.doing.problem]).toEqual(['notYet', full]);
  });
});

describe('the look of this week', () => {
  it('is one since Monday, Monday too', () => {
    expect(lookedThisWeek([check('2026-03-02'), check('2026-03-01')], '2026-03-02')?.day).toBe('2026-03-02');
    expect(lookedThisWeek([check('2026-03-01')], '2026-03-02')).toBe(null);
    expect(lookedThisWeek([], '2026-03-02')).toBe(null);
  });
});
