import { describe, expect, it } from 'vitest';
import { FakeBridge } from '../bridge/fake';
import type { Mark } from '../bridge/types';
import { Acts } from './acts';
import { History } from './history.svelte';
import { Marking } from './marking.svelte';

const A4 = { width: 210, height: 297 };
const where = { pupil: 'p', page: 'q' };

function holding(tool: 'box' | 'pen' | 'note') {
  const bridge = new FakeBridge();
  bridge.answers.add_mark = { mark: 'm' };
  bridge.answers.remove_mark = {};
  bridge.answers.change_mark = {};
  const dropped: string[] = [];
  const sentence = {
    text: '',
    drop: async () => {
      dropped.push(sentence.text);
      sentence.text = '';
    },
  };
  const history = new History();
  const marking = new Marking(new Acts(bridge, where, history), sentence);
  marking.choose(tool, { x: 100, y: 100 }, A4);
  return { bridge, marking, sentence, dropped, history };
}

const mark: Mark = {
  id: 'old', page: 'q', shape: { shape: 'note', at: { x: 1, y: 2 } }, words: 'Look.', aspect: 'slant', praise: true, madeAt: 0, by: 'd',
};

describe('drawing a mark', () => {
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

  it('takes all points that a fast pen passed, and makes a shape of them when it is lifted', () => {
    const { marking } = holding('pen');
    marking.press({ x: 0, y: 0 });
    marking.drag(...[2, 4, 6].map((x) => ({ x, y: 1 })));
    const begun = marking.shape;
    marking.drag({ x: 8, y: 1 }, { x: 8.1, y: 1 }, { x: 10, y: 1 });
    // While the pen is down nothing is made anew with each point; and it leaves out points that are no step apart.
    expect(marking.shape).toBe(begun);
    expect(marking.stroke).toHaveLength(6);
    marking.release({ x: 10, y: 1 });
    expect(marking.shape).toEqual({ shape: 'pen', points: [0, 2, 4, 6, 8, 10].map((x) => ({ x, y: x === 0 ? 0 : 1 })) });
    expect(marking.stroke).toEqual([]);
  });

  it('keeps a stroke when a second finger takes the pointer', () => {
    const { marking } = holding('pen');
    marking.press({ x: 0, y: 0 });
    marking.drag({ x: 5, y: 0 });
    marking.lose();
    expect(marking.shape?.shape === 'pen' && marking.shape.points).toHaveLength(2);
  });

  it('draws a stroke by taps from point to point', () => {
    const { marking } = holding('pen');
    for (const x of [5, 15, 25]) {
      marking.press({ x, y: 5 });
      marking.release({ x, y: 5 });
    }
    expect(marking.shape).toEqual({ shape: 'pen', points: [{ x: 5, y: 5 }, { x: 15, y: 5 }, { x: 25, y: 5 }] });
  });

  it('moves by keys', () => {
    const { marking } = holding('note');
    marking.move(5, -1, A4);
    expect(marking.shape).toEqual({ shape: 'note', at: { x: 105, y: 99 } });
  });
});

describe('what a mark says', () => {
  it('asks a sentence of a text before it can be put', async () => {
    const { bridge, marking, sentence, dropped } = holding('note');
    expect(marking.ready).toBe(false);
    expect(await marking.put(true)).toBeNull();
    sentence.text = '  Look here. ';
    expect(marking.ready).toBe(true);
    expect(await marking.put(false)).toBe('m');
    const shape = { shape: 'note', at: { x: 100, y: 100 } };
    expect(bridge.calls).toEqual([['add_mark', { ...where, shape, words: 'Look here.', aspect: null, praise: false }]]);
    expect([marking.tool, sentence.text, dropped.length]).toEqual([null, '', 1]);
  });

  it('is praise as easily as not', async () => {
    const { bridge, marking } = holding('box');
    await marking.put(true);
    expect(bridge.calls[0]?.[1]).toMatchObject({ praise: true });
  });

  it('is about what the page shows just now, whatever the last mark was about', async () => {
    const { marking } = holding('box');
    marking.lay();
    marking.choose('box', { x: 1, y: 1 }, A4, 'gaps');
    expect(marking.aspect).toBe('gaps');
    // Another tool for the same mark changes nothing that a person chose for it.
    marking.aspect = 'joins';
    marking.choose('pen', { x: 1, y: 1 }, A4, 'gaps');
    expect(marking.aspect).toBe('joins');
    await marking.put(true);
    marking.choose('box', { x: 1, y: 1 }, A4, 'reach');
    expect(marking.aspect).toBe('reach');
    marking.choose('box', { x: 1, y: 1 }, A4, 'reach');
    expect([marking.tool, marking.aspect]).toEqual([null, null]);
  });

  it('keeps half-typed words when the tool is laid down, and drops them when that is said', async () => {
    const { marking, sentence } = holding('box');
    sentence.text = 'Half a';
    marking.lay();
    expect(sentence.text).toBe('Half a');
    await marking.cancel();
    expect(sentence.text).toBe('');
  });

  it('keeps the draft when it could not be put', async () => {
    const { bridge, marking, sentence } = holding('box');
    bridge.refusals.add_mark = { code: 'disk-full', message: 'No room.', whatToDo: 'Make room.' };
    sentence.text = 'Look.';
    expect(await marking.put(true)).toBeNull();
    expect([marking.shape !== null, sentence.text, marking.doing.problem?.code]).toEqual([true, 'Look.', 'disk-full']);
  });

  it('can be changed, and stays the mark that it was', async () => {
    const { bridge, marking, sentence } = holding('box');
    marking.change(mark);
    expect([marking.tool, marking.aspect, sentence.text, marking.changed]).toEqual(['note', 'slant', 'Look.', mark]);
    sentence.text = 'Look here.';
    expect(await marking.put(false)).toBe('old');
    const said = { words: 'Look here.', aspect: 'slant', praise: false, shape: mark.shape };
    expect(bridge.calls).toEqual([['change_mark', { pupil: 'p', mark: 'old', ...said }]]);
    expect(marking.changed).toBeNull();
  });

  it('of a mark left unchanged is no half-typed sentence', () => {
    const { marking, sentence } = holding('box');
    marking.change(mark);
    marking.lay();
    expect([sentence.text, marking.changed]).toEqual(['', null]);
  });
});
