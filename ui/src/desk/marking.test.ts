import { describe, expect, it } from 'vitest';
import { FakeBridge } from '../bridge/fake';
import { Marking } from './marking.svelte';

const A4 = { width: 210, height: 297 };
const where = { pupil: 'p', page: 'q' };

function holding(tool: 'box' | 'pen' | 'note') {
  const bridge = new FakeBridge();
  const marking = new Marking(bridge, where);
  marking.choose(tool, { x: 100, y: 100 }, A4);
  return { bridge, marking };
}

describe('making a mark', () => {
  it('draws a box by dragging', () => {
    const { marking } = holding('box');
    marking.press({ x: 50, y: 60 });
    marking.drag({ x: 30, y: 40 });
    marking.release({ x: 30, y: 40 });
    expect(marking.shape).toEqual({ shape: 'box', bounds: { x0: 30, y0: 40, x1: 50, y1: 60 } });
  });

  it('draws a box by two taps instead', () => {
    const { marking } = holding('box');
    for (const at of [{ x: 10, y: 10 }, { x: 40, y: 30 }]) {
      marking.press(at);
      marking.release(at);
    }
    expect(marking.shape).toEqual({ shape: 'box', bounds: { x0: 10, y0: 10, x1: 40, y1: 30 } });
  });

  it('draws a stroke by dragging, and by taps from point to point', () => {
    const dragged = holding('pen').marking;
    dragged.press({ x: 0, y: 0 });
    for (let x = 0; x <= 10; x += 2) dragged.drag({ x, y: 1 });
    expect(dragged.shape?.shape === 'pen' && dragged.shape.points.length).toBe(7);
    const tapped = holding('pen').marking;
    for (const x of [5, 15, 25]) {
      tapped.press({ x, y: 5 });
      tapped.release({ x, y: 5 });
    }
    expect(tapped.shape).toEqual({ shape: 'pen', points: [{ x: 5, y: 5 }, { x: 15, y: 5 }, { x: 25, y: 5 }] });
  });

  it('moves by keys', () => {
    const { marking } = holding('note');
    marking.move(5, -1, A4);
    expect(marking.shape).toEqual({ shape: 'note', at: { x: 105, y: 99 } });
  });

  it('asks a sentence of a note before it can be put', async () => {
    const { bridge, marking } = holding('note');
    expect(marking.ready).toBe(false);
    marking.words = '  Look here. ';
    expect(marking.ready).toBe(true);
    bridge.answers.add_mark = { mark: 'm' };
    expect(await marking.put()).toBe('m');
    expect(bridge.calls).toEqual([
      ['add_mark', { ...where, shape: { shape: 'note', at: { x: 100, y: 100 } }, words: 'Look here.', aspect: null, praise: false }],
    ]);
    expect(marking.tool).toBeNull();
  });

  it('keeps the draft when it could not be put', async () => {
    const { bridge, marking } = holding('box');
    bridge.refusals.add_mark = { code: 'disk-full', message: 'No room.', whatToDo: 'Make room.' };
    expect(await marking.put()).toBeNull();
    expect(marking.shape).not.toBeNull();
    expect(marking.doing.problem?.code).toBe('disk-full');
  });
});
