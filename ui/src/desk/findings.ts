import type { Aspect, FaultKind, JoinVerdict, LetterClass, Reading } from '../bridge/types';
import { words } from '../words/words';
import type { Kind } from './drawn';
import { isSure, isWithoutInk, leaningLetters, placesOf, standing } from './overlay';

/** How often a fault was found, and in which letters. */
export interface FaultCount {
  kind: FaultKind;
  n: number;
  letters: string[];
}

/** What is told of letters and joins, apart from any figure. */
export interface Findings {
  /** The most frequent first. */
  faults: FaultCount[];
  /** Letters that the program is not sure of. */
  unsure: number;
  /** Letters of the text without ink, and ink without a letter of the text. */
  skipped: number;
  extra: number;
  /** Lines that read as another text. */
  otherLines: number;
  joins: Record<JoinVerdict, number> & { all: number };
}

export function findingsOf(reading: Reading): Findings {
  const known = reading.letters.filter((letter) => letter.char !== null && !isWithoutInk(letter));
  const counts = new Map<FaultKind, { n: number; letters: Set<string> }>();
  for (const { char, faults } of known.filter(isSure)) {
    for (const { kind } of faults) {
      const count = counts.get(kind) ?? { n: 0, letters: new Set() };
      counts.set(kind, { n: count.n + 1, letters: count.letters.add(char ?? '') });
    }
  }
  const judged = (verdict: JoinVerdict) => reading.joins.filter((join) => join.verdict === verdict).length;
  return {
    faults: [...counts]
      .map(([kind, { n, letters }]) => ({ kind, n, letters: [...letters].sort() }))
      .sort((one, other) => other.n - one.n),
    unsure: known.filter((letter) => !isSure(letter)).length,
    skipped: reading.text?.skipped.length ?? 0,
    extra: reading.text?.extra.length ?? 0,
    otherLines: reading.text?.otherLines.length ?? 0,
    joins: {
      joined: judged('joined'),
      missing: judged('missing'),
      wrongHeight: judged('wrongHeight'),
      all: reading.joins.length,
    },
  };
}

/** What is said of an aspect beside its figures. */
export function toldOf(reading: Reading, aspect: Aspect): string[] {
  const t = words.desk;
  const { faults, joins, otherLines } = findingsOf(reading);
  if (aspect === 'form') {
    const lines = otherLines > 0 ? [t.otherLines(otherLines)] : [];
    const judged = reading.measures.some(({ name, outcome }) => name === 'well_formed' && outcome === 'measured');
    const told = faults.map(({ kind, n, letters }) => t.faults[kind](n, letters.join(', ')));
    if (told.length > 0) return [...told, ...lines, t.restOfForm];
    return judged ? [t.noFault, ...lines, t.restOfForm] : lines;
  }
  if (aspect === 'joins' && joins.all > 0) {
    return [
      t.joined(joins.joined, joins.all),
      ...(joins.missing > 0 ? [t.joinsMissing(joins.missing)] : []),
      ...(joins.wrongHeight > 0 ? [t.joinsOtherHeight(joins.wrongHeight)] : []),
    ];
  }
  return [];
}

/** A kind of shape drawn for an aspect, with what it means. */
export interface Meaning {
  kind: Kind;
  means: string;
}

/** What the shapes mean that are drawn for an aspect. */
export function meaningsOf(reading: Reading, aspect: Aspect): Meaning[] {
  const t = words.desk.legend;
  const { faults, unsure, skipped, extra, joins } = findingsOf(reading);
  const n = (kind: LetterClass) => standing(reading.letters, kind).length;
  const all: Record<Aspect, [Kind, number, string][]> = {
    baseline: [
      ['rule', reading.ruling?.rules.length ?? 0, t.rule],
      ['baseline', reading.lines.length, t.baseline],
      ['area', reading.ruling?.rules.length ?? 0, t.area],
    ],
    xHeight: [['band', reading.lines.length, t.band], ['top', n('short'), t.top]],
    reach: [['rise', n('tall'), t.rise], ['fall', n('tail'), t.fall]],
    form: [
      ['fault', faults.length, t.fault],
      ['unsure', unsure, t.unsure(unsure)],
      ['caret', skipped, t.skipped(skipped)],
      ['extra', extra, t.extra(extra)],
    ],
    joins: [
      ['made', joins.joined, t.made],
      ['missing', joins.missing, t.missing],
      ['wrongHeight', joins.wrongHeight, t.wrongHeight],
    ],
    gaps: [
      ['gap', placesOf(reading, 'word_gap').length, t.gap],
      ['letterGap', placesOf(reading, 'letter_gap').length, t.letterGap],
    ],
    slant: [['stroke', leaningLetters(reading.letters).length, t.stroke]],
    corrections: [['correction', reading.corrections.length, t.correction]],
  };
  return all[aspect].flatMap(([kind, n, means]) => (n > 0 ? [{ kind, means }] : []));
}

/** The same for whoever shows no samples of the shapes. */
export const legendOf = (reading: Reading, aspect: Aspect): string[] => meaningsOf(reading, aspect).map(({ means }) => means);
