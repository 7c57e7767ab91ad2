import { describe, expect, it } from 'vitest';
import { FakeBridge } from '../bridge/fake';
import { rowOf } from '../pupil/sample';
import { Ordering } from './ordering.svelte';

const rows = [
  rowOf({ lesson: { weekday: 'friday', minute: 600 } }, 'Cyr'),
  rowOf({ lesson: null }, 'Zo\u00eb'),
  rowOf({ lesson: { weekday: 'monday', minute: 900 } }, '\u00c9lan'),
];
const [cyr, zoe, elan] = rows.map(({ pupil }) => pupil);

function ordering(): [Ordering, () => unknown] {
  const bridge = new FakeBridge();
  bridge.answers = { set_order: {} };
  return [new Ordering(bridge), () => bridge.calls.at(-1)?.[1]];
}

describe('the order of the pupils', () => {
  it('changes by one place at a time', async () => {
    const [order, sent] = ordering();
    expect(await order.move(rows, zoe ?? '', -1)).toBe(true);
    expect(sent()).toEqual({ pupils: [zoe, cyr, elan] });
    expect(await order.move(rows, zoe ?? '', 1)).toBe(true);
    expect(sent()).toEqual({ pupils: [cyr, elan, zoe] });
  });

  it('has two ends', async () => {
    const [order, sent] = ordering();
    expect(await order.move(rows, cyr ?? '', -1)).toBe(false);
    expect(await order.move(rows, elan ?? '', 1)).toBe(false);
    expect(sent()).toBe(undefined);
  });

  it('can be that of the names, or of the lessons in the week', async () => {
    const [order, sent] = ordering();
    await order.byName(rows);
    expect(sent()).toEqual({ pupils: [cyr, elan, zoe] });
    await order.byLesson(rows);
    expect(sent()).toEqual({ pupils: [elan, cyr, zoe] });
  });
});
