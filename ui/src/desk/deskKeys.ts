import type { Aspect } from '../bridge/types';
import { ASPECTS } from '../words/format';
import { words } from '../words/words';
import { type Panel, PANELS } from './bench.svelte';
import type { Tool } from './draft';
import type { Key } from './keys.svelte';

/** What the keys of the desk do. */
export interface DeskActs {
  aspect: (aspect: Aspect) => void;
  tool: (tool: Tool) => void;
  lay: () => void;
  panel: (panel: Panel) => void;
  place: (by: 1 | -1) => void;
  larger: () => void;
  smaller: () => void;
  whole: () => void;
  lookAndGo: () => void;
  earlier: () => void;
  later: () => void;
  compare: () => void;
  undo: () => void;
  redo: () => void;
  list: () => void;
}

const t = words.keys.does;
const TOOL_KEYS: readonly [string, Tool][] = [['p', 'pen'], ['b', 'box'], ['t', 'note']];
const PANEL_KEYS: Record<Panel, string> = { read: 'r', marks: 'm', right: 'f', details: 'i' };

export const aspectKeys = (show: (aspect: Aspect) => void): Key[] =>
  ASPECTS.map((aspect, index) => ({
    key: String(index + 1),
    does: words.aspects[aspect].name,
    act: () => show(aspect),
  }));

export const sizeKeys = (acts: Pick<DeskActs, 'larger' | 'smaller' | 'whole'>): Key[] => [
  { key: '+', does: words.desk.bigger, act: acts.larger },
  { key: '-', does: words.desk.smaller, act: acts.smaller },
  { key: '0', does: words.desk.whole, act: acts.whole },
];

export function deskKeys(acts: DeskActs): Key[] {
  return [
    ...aspectKeys(acts.aspect),
    { key: 'n', does: t.nextPlace, act: () => acts.place(1) },
    { key: 'n', shift: true, does: t.placeBefore, act: () => acts.place(-1) },
    ...TOOL_KEYS.map(([key, tool]) => ({ key, does: words.marks.tools[tool], act: () => acts.tool(tool) })),
    { key: 'escape', does: t.lay, act: acts.lay },
    ...PANELS.map((panel) => ({ key: PANEL_KEYS[panel], does: t.panel(words.desk.panels[panel]), act: () => acts.panel(panel) })),
    ...sizeKeys(acts),
    { key: 'l', does: words.desk.lookAndGo, act: acts.lookAndGo },
    { key: ',', does: t.earlier, act: acts.earlier },
    { key: '.', does: t.later, act: acts.later },
    { key: 'c', does: words.compare.open, act: acts.compare },
    { key: 'z', ctrl: true, shift: false, does: words.undoing.undo, act: acts.undo },
    { key: 'z', ctrl: true, shift: true, does: words.undoing.redo, act: acts.redo },
    { key: '?', does: words.keys.title, act: acts.list },
  ];
}
