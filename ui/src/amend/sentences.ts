import type { Amendment, FaultKind } from '../bridge/types';
import { isWithoutInk } from '../desk/overlay';
import { number } from '../words/format';
import { words } from '../words/words';
import { lineOf, type Picked, type Stop } from './stops';

/** Faults whose figure is a share or a probability; the others are counted in x-heights. */
const SHARES: ReadonlySet<FaultKind> = new Set(['open', 'reversed', 'readsAsOther']);

export const FAULT_KINDS = Object.keys(words.faultKinds) as FaultKind[];

/** A fault of form with what it rests on; what a person saw has no figure. */
export function faultText(kind: FaultKind, figure: number | null): string {
  if (figure === null) return words.faultKinds[kind];
  const value = number(figure, SHARES.has(kind) ? 'share' : 'ratio');
  return words.letter.faultWith(words.faultKinds[kind], words.letter.faultFigures[kind](value));
}

/** What was put right, as a person would say it. */
export function putRightText(what: Amendment): string {
  const t = words.putRight;
  switch (what.about) {
    case 'letter':
      return what.bounds ? t.place(what.letter) : t.noInk(what.letter);
    case 'fault':
      return (what.there ? t.faultAdded : t.faultTaken)(what.letter, words.faultKinds[what.fault]);
    case 'reads':
      return (what.asMeant ? t.readsAsMeant : t.readsNot)(what.letter);
    case 'join':
      return t.join(what.letter, words.joinVerdicts[what.verdict]);
    case 'correction':
      return what.kind ? t.correction(words.correctionKinds[what.kind]) : t.noCorrection;
    case 'notWriting':
      return t.notWriting;
    case 'line':
      return t.line;
  }
}

/** Where on the page it is, as it would be picked there. */
export function pickedOf(what: Amendment): Picked {
  if (what.about === 'correction' || what.about === 'notWriting' || what.about === 'line') return { at: what.at, char: null };
  const drawn = what.about === 'letter' ? what.bounds : null;
  return { at: drawn ?? what.at, char: what.letter, drawn: drawn !== null };
}

/** One sentence on a stop, for whoever cannot see the page. */
export function stopText(stop: Stop): string {
  const t = words.letter;
  switch (stop.of) {
    case 'letter': {
      if (isWithoutInk(stop.letter)) return t.said(stop.char, lineOf(stop) + 1, t.withoutInkShort);
      const faults = stop.letter.faults.map(({ kind }) => words.faultKinds[kind]);
      if (stop.join && stop.join.verdict !== 'joined') faults.push(t.joinIs(words.joinVerdicts[stop.join.verdict]));
      return t.said(stop.char, lineOf(stop) + 1, faults.join(', '));
    }
    case 'skipped':
      return t.said(stop.char, lineOf(stop) + 1, t.skippedShort);
    case 'correction':
      return words.correctionKinds[stop.correction.kind];
  }
}
