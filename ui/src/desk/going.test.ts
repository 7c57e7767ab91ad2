import { describe, expect, it } from 'vitest';
import type { Reading } from '../bridge/types';
import { Going } from './going.svelte';
import { Look } from './look.svelte';
import { boxAt, letterOf, sampleReading } from './sample';
import { Zoom } from './zoom.svelte';

function going() {
  let reading: Reading | null = {
    ...sampleReading,
    letters: [10, 20, 30].map((x) => letterOf('a', { bounds: boxAt(x, 20, 4, 3) })),
  };
  const said: string[] = [];
  const look = new Look();
  const one = new Going(() => ({ reading }), look, new Zoom(), (sentence) => said.push(sentence));
  look.turn('xHeight');
  return { one, look, said, gone: () => (reading = null) };
}

describe('going over the places of an aspect', () => {
  it('tells of a place that is tapped, and clears it by a tap beside', () => {
    const { one, said } = going();
    expect(one.tap({ x: 22, y: 21 }, 1)?.says).toBe('a, line 1: 3.00 mm high');
    expect([one.spot?.at.x0, said.length]).toEqual([20, 1]);
    expect(one.tap({ x: 150, y: 200 }, 1)).toBeNull();
    expect([one.spot, said.length]).toEqual([null, 1]);
  });

  it('steps from one to the next and stays at the ends', () => {
    const { one, said } = going();
    const stops = [];
    for (let n = 0; n < 5; n += 1) {
      one.step(1);
      stops.push(one.spot?.at.x0);
    }
    expect(stops).toEqual([10, 20, 30, 30, 30]);
    expect([one.next(1), said.length]).toEqual([null, 3]);
    one.step(-1);
    expect(one.spot?.at.x0).toBe(20);
  });

  it('begins at the end when it is gone through backwards', () => {
    const { one } = going();
    one.step(-1);
    expect(one.spot?.at.x0).toBe(30);
  });

  it('forgets the place with the aspect', () => {
    const { one, look } = going();
    one.step(1);
    look.turn('slant');
    expect(look.spot).toBeNull();
  });
});

describe('what is lit', () => {
  const figure = (name: 'slant' | 'drift', aspect: 'slant' | 'baseline') =>
    ({ name, aspect, unit: 'degrees', value: 1, se: 1, spread: null, n: 1, because: null, before: null, byHand: false }) as const;

  it('are the places of the figure under the pointer, else of the one that was chosen', () => {
    const look = new Look();
    look.light(figure('slant', 'slant'));
    expect([look.aspect, look.shown]).toEqual(['slant', 'slant']);
    look.glance(figure('drift', 'baseline'));
    expect(look.shown).toBe('drift');
    look.glance(null);
    expect(look.shown).toBe('slant');
    look.light(figure('slant', 'slant'));
    expect(look.shown).toBeNull();
  });

  it('stays as it is from page to page, but for what belongs to one page', () => {
    const look = new Look();
    look.light(figure('slant', 'slant'));
    look.mark = 'm';
    look.leavePage();
    expect([look.aspect, look.lit, look.mark]).toEqual(['slant', 'slant', null]);
  });
});
