import { describe, expect, it } from 'vitest';
import { FakeBridge } from '../bridge/fake';
import type { Chart, ProgressView } from '../bridge/types';
import { figureOf } from '../pupil/sample';
import { Aiming } from './aiming.svelte';
import { sideOf, type Standing, standings, targetText, wayText } from './targets';

const PUPIL = '1'.padStart(32, '0');
const gap: Standing = { measure: 'word_gap', unit: 'oWidths', now: 1.6, start: 1.9 };
const line: Standing = { measure: 'on_line', unit: 'share', now: 0.6149, start: null };
const all = [gap, line];

const chart = (kind: Chart['kind'], points: [string, number][], start: number | null): Chart => ({
  name: 'word_gap',
  aspect: 'gaps',
  unit: 'oWidths',
  kind,
  points: points.map(([day, value]) => ({ page: PUPIL, day, value, se: 0.1 })),
  trend: null,
  noise: null,
  verdict: 'tooFewPages',
  aroundFocuses: [],
  start: start === null ? null : { value: start, se: 0.1, pages: 2 },
});

describe('where a measure stands', () => {
  it('is what the newest page says, of whatever kind, and the starting point', () => {
    const progress: ProgressView = {
      pupil: PUPIL,
      charts: [
        chart('copied', [['2026-01-01', 2], ['2026-03-01', 1.7]], 1.9),
        chart('ownWords', [['2026-03-04', 1.6]], null),
      ],
      focuses: [],
      targets: [],
      aspects: [],
    };
    expect(standings([figureOf({})], progress)).toEqual([gap]);
    expect(standings([figureOf({})], null)).toEqual([{ ...gap, now: null, start: null }]);
  });

  it('lies on a side that can be told when it is written', () => {
    expect([1, 2, 1.6, 1.601].map((value) => sideOf(value, 1.6, 'oWidths'))).toEqual(['below', 'above', 'at', 'at']);
  });

  it('says which way is meant and what the newest page has, and praises or blames nobody', () => {
    const target = { value: 1.2 };
    expect(wayText(target, gap)).toBe('Down from 1.90 o-widths at the start. 1.60 o-widths on the newest page: above the target.');
    expect(wayText({ value: 0.9 }, { ...line, start: 0.2, now: 0.93 })).toBe(
      'Up from 20 % at the start. 93 % on the newest page: above the target.',
    );
    expect(wayText(target, { ...gap, start: null, now: 1.2 })).toBe('1.20 o-widths on the newest page: at the target.');
    expect(wayText(target, { ...gap, now: null, start: null })).toBe('No page has shown it yet.');
  });

  it('names the target with its unit and day', () => {
    expect(targetText({ measure: 'on_line', value: 0.8, by: '2026-06-30' }, 'share')).toBe(
      'Letters standing on the rule: 80 % by 30 June 2026',
    );
  });
});

describe('setting a target', () => {
  function aiming(): [Aiming, FakeBridge] {
    const bridge = new FakeBridge();
    bridge.answers = { set_target: {}, drop_target: {} };
    return [new Aiming(bridge, PUPIL), bridge];
  }

  it('starts from where the measure stands, shares as per cent, and sends them as shares', async () => {
    const [one, bridge] = aiming();
    one.begin('on_line', all);
    expect([one.open, one.value]).toEqual([true, 61.49]);
    one.value = 80;
    one.by = '2026-06-30';
    expect(await one.send(all)).toBe(true);
    expect(one.open).toBe(false);
    expect(bridge.calls).toEqual([
      ['set_target', { pupil: PUPIL, target: { measure: 'on_line', value: 0.8, by: '2026-06-30' } }],
    ]);
  });

  it('starts from the target where there is one, and may do without a day', async () => {
    const [one, bridge] = aiming();
    one.begin('word_gap', all, { measure: 'word_gap', value: 1.2, by: '2026-06-30' });
    expect([one.value, one.by]).toEqual([1.2, '2026-06-30']);
    one.by = '';
    await one.send(all);
    expect(bridge.calls[0]?.[1]).toMatchObject({ target: { value: 1.2, by: null } });
  });

  it('sends nothing without a measure or a number', async () => {
    const [one, bridge] = aiming();
    one.begin(null, all);
    expect(await one.send(all)).toBe(false);
    one.pick('word_gap', all);
    one.value = null;
    expect(await one.send(all)).toBe(false);
    expect(bridge.calls).toEqual([]);
  });

  it('that is refused stays open', async () => {
    const [one, bridge] = aiming();
    bridge.refusals = { set_target: { code: 'a', message: 'b', whatToDo: 'c' } };
    one.begin('word_gap', all);
    expect(await one.send(all)).toBe(false);
    expect([one.open, one.doing.problem?.code]).toEqual([true, 'a']);
  });

  it('drops one by its measure', async () => {
    const [one, bridge] = aiming();
    await one.drop('word_gap');
    expect(bridge.calls).toEqual([['drop_target', { pupil: PUPIL, measure: 'word_gap' }]]);
  });
});
