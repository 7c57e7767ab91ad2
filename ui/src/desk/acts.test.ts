import { describe, expect, it } from 'vitest';
import { FakeBridge } from '../bridge/fake';
import type { AddMark, Amendment, Mark } from '../bridge/types';
import { Acts, type NewMark } from './acts';
import { History } from './history.svelte';
import { boxAt } from './sample';

const where = { pupil: 'p', page: 'q' };
const made: NewMark = { shape: { shape: 'note', at: { x: 1, y: 2 } }, words: 'One.', aspect: 'gaps', praise: true };
const what: Amendment = { about: 'fault', at: boxAt(1, 1), letter: 'a', fault: 'open', there: true };
const t = { disk: { code: 'disk-full', message: 'a', whatToDo: 'b' } };

/** A page that keeps what is put on it, each under a new id, and what is changed under its own, as the program does. */
class Page extends FakeBridge {
  readonly on = new Map<string, unknown>();
  #next = 0;

  override async call(verb: never, input: never): Promise<never> {
    this.answers = { add_mark: { mark: '' }, change_mark: {}, remove_mark: {}, amend: { amendment: '' }, take_back: {} };
    await super.call(verb, input);
    const id = `id${(this.#next += 1)}`;
    const { mark, amendment, what: said, words } = input as { mark?: string; amendment?: string } & Partial<AddMark> & { what?: unknown };
    const gone = mark ?? amendment;
    if (gone === undefined) this.on.set(id, said ?? words);
    else if (words !== undefined && this.on.has(gone)) this.on.set(gone, words);
    else if (!this.on.delete(gone)) throw new Error(`${gone} is not on the page`);
    return { mark: id, amendment: id } as never;
  }
}

function page() {
  const bridge = new Page();
  const history = new History();
  return { bridge, history, acts: new Acts(bridge, where, history) };
}

const kept = (bridge: Page) => [...bridge.on.values()];
const markOf = (id: string, words = 'One.'): Mark => ({ ...made, words, id, page: 'q', madeAt: 0, by: 'd' });

describe('undoing', () => {
  it('takes a mark off and puts it on again, as often as one likes', async () => {
    const { bridge, history, acts } = page();
    await acts.addMark(made);
    for (let n = 0; n < 3; n += 1) {
      expect((await history.undo())?.name).toBe('mark put on the page');
      expect(kept(bridge)).toEqual([]);
      expect(await history.redo()).not.toBeNull();
      expect(kept(bridge)).toEqual(['One.']);
    }
    expect([history.last !== null, history.next]).toEqual([true, null]);
  });

  it('puts a mark back that was taken off', async () => {
    const { bridge, history, acts } = page();
    const id = await acts.addMark(made);
    await acts.removeMark(markOf(id));
    await history.undo();
    expect(kept(bridge)).toEqual(['One.']);
    // The mark has another id now; the act before it still finds it.
    await history.undo();
    expect(kept(bridge)).toEqual([]);
    await history.redo();
    await history.redo();
    expect(kept(bridge)).toEqual([]);
  });

  it('changes a mark back and forth, and still finds it where it began', async () => {
    const { bridge, history, acts } = page();
    const id = await acts.addMark(made);
    const changed = await acts.changeMark(markOf(id), { ...made, words: 'Two.' });
    expect(changed).toBe(id);
    await acts.changeMark(markOf(changed, 'Two.'), { ...made, words: 'Three.' });
    expect(kept(bridge)).toEqual(['Three.']);
    const words = [];
    for (let n = 0; n < 3; n += 1) {
      await history.undo();
      words.push(kept(bridge).join());
    }
    expect(words).toEqual(['Two.', 'One.', '']);
    for (let n = 0; n < 3; n += 1) await history.redo();
    expect(kept(bridge)).toEqual(['Three.']);
  });

  it('takes a correction back and makes it again', async () => {
    const { bridge, history, acts } = page();
    await acts.amend(what, 'a left open');
    const [id = ''] = bridge.on.keys();
    await acts.takeBack(id, what, 'taken back');
    expect(kept(bridge)).toEqual([]);
    expect((await history.undo())?.name).toBe('taken back');
    expect(kept(bridge)).toEqual([what]);
    expect((await history.undo())?.name).toBe('a left open');
    expect(kept(bridge)).toEqual([]);
  });

  it('leaves behind what was undone once something else is done', async () => {
    const { history, acts } = page();
    await acts.addMark(made);
    await history.undo();
    await acts.addMark(made);
    expect(history.next).toBeNull();
    expect(await history.redo()).toBeNull();
  });

  it('keeps an act that could not be undone, and says why', async () => {
    const { bridge, history, acts } = page();
    await acts.addMark(made);
    bridge.refusals.remove_mark = t.disk;
    expect(await history.undo()).toBeNull();
    expect([history.last?.name, history.doing.problem]).toEqual(['mark put on the page', t.disk]);
    bridge.refusals = {};
    expect(await history.undo()).not.toBeNull();
    expect(history.doing.problem).toBeNull();
  });

  it('says nothing of what did not happen', async () => {
    const { bridge, history, acts } = page();
    bridge.refusals.add_mark = t.disk;
    await expect(acts.addMark(made)).rejects.toThrow();
    expect(history.last).toBeNull();
  });
});
