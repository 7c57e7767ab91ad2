import {
  type Aspect,
  type BoxMm,
  type CorrectionKind,
  type JoinVerdict,
  type Letter,
  type LetterClass,
  type Line,
  type MeasureName,
  type PointMm,
  type Reading,
  type RulingFound,
  SURE,
} from '../bridge/types';

export type Path = PointMm[];

/** Whether a person says that no ink is this letter: such a letter is neither doubted nor judged. */
export function isWithoutInk({ confidence, byHand }: Letter): boolean {
  return byHand && confidence === 0;
}

/** Whether the program, or a person, is sure of a letter. */
export function isSure({ confidence, byHand }: Letter): boolean {
  return confidence >= SURE || (byHand && confidence > 0);
}

/** A part of the page that is outlined, by what it is. */
export type BoxRole = 'gap' | 'fault' | 'unsure' | 'extra' | 'correction';

/** How one line stands to its printed rule. */
export interface AgainstRule {
  /** Index of the line. */
  line: number;
  /** Height above the rule in mm: below zero it cuts the rule. */
  offset: number;
  rule: Path;
  /** The white, or the overlap, between baseline and rule, as a closed outline. */
  area: Path;
}

/** A join that is expected, from the middle of its letter to the middle of the next. */
export interface JoinDrawn {
  at: BoxMm;
  verdict: JoinVerdict;
  /** Where the letters stand there, in mm down the page. */
  base: number;
  /** Its lowest place, in mm down the page; `null` where nothing leads across. */
  low: number | null;
}

/** What is drawn over the picture for one aspect, in millimetres on the page. */
export interface Overlay {
  /** The printed rules that lines stand on. */
  rules: Path[];
  /** Where the letters stand. */
  baselines: Path[];
  againstRules: AgainstRule[];
  /** Closed outlines between baseline and the top of the short letters. */
  bands: Path[];
  /** Tops of short letters, each as wide as its letter. */
  tops: Path[];
  /** From the short letters up to the top of a tall one, and from the line down to the end of a tail. */
  rises: Path[];
  falls: Path[];
  boxes: { bounds: BoxMm; role: BoxRole }[];
  /** Whites between the letters of a word. */
  letterGaps: BoxMm[];
  joins: JoinDrawn[];
  /** Downstrokes as they lean. */
  strokes: Path[];
  /** Letters of the text that no ink was found for. */
  skipped: { at: BoxMm; letter: string }[];
  /** White between words, in widths of this writer's own o. */
  wordGaps: { at: BoxMm; oWidths: number }[];
  corrections: { bounds: BoxMm; kind: CorrectionKind }[];
}

const nothing = (): Overlay => ({
  rules: [], baselines: [], againstRules: [], bands: [], tops: [], rises: [], falls: [], boxes: [], letterGaps: [],
  joins: [], strokes: [], skipped: [], wordGaps: [], corrections: [],
});

/** Lays out what a reading has to show of one aspect. */
export function overlayOf(reading: Reading, aspect: Aspect | null): Overlay {
  return { ...nothing(), ...(aspect ? LAID_OUT[aspect](reading) : {}) };
}

const LAID_OUT: Record<Aspect, (reading: Reading) => Partial<Overlay>> = {
  baseline: (reading) => {
    const against = againstRules(reading);
    return {
      rules: against.map(({ rule }) => rule),
      baselines: reading.lines.map((line) => line.baseline),
      againstRules: against,
    };
  },
  xHeight: ({ lines, letters }) => ({ bands: bandsOf(lines), tops: standing(letters, 'short').map(topOf) }),
  reach: ({ lines, letters }) => ({
    bands: bandsOf(lines),
    // From where the short letters end, so that little of the writing is covered.
    rises: standing(letters, 'tall').map(({ bounds, line }) => {
      const xHeight = lines[line]?.xHeight ?? 0;
      return upright(bounds, Math.max(bounds.y0, bounds.y1 - xHeight), bounds.y0);
    }),
    falls: standing(letters, 'tail').map((letter) => upright(letter.bounds, footOf(letter, lines), letter.bounds.y1)),
  }),
  form: ({ letters, text }) => ({
    boxes: [
      ...letters.flatMap(formBox),
      ...(text?.extra ?? []).map((bounds) => ({ bounds, role: 'extra' as const })),
    ],
    skipped: text?.skipped ?? [],
  }),
  joins: (reading) => ({ joins: joinsOf(reading) }),
  gaps: (reading) => ({
    boxes: placesOf(reading, 'word_gap').map((bounds) => ({ bounds, role: 'gap' as const })),
    letterGaps: placesOf(reading, 'letter_gap'),
    wordGaps: gapsOf(reading, 'word_gap'),
  }),
  slant: ({ letters }) => ({ strokes: leaningLetters(letters).map(({ bounds, slant }) => leaning(bounds, slant)) }),
  corrections: ({ corrections }) => ({
    boxes: corrections.map(({ bounds }) => ({ bounds, role: 'correction' as const })),
    corrections: corrections.map(({ bounds, kind }) => ({ bounds, kind })),
  }),
};

/** Where on the page a measure was taken. */
export function placesOf(reading: Reading, name: MeasureName | null): BoxMm[] {
  const measure = reading.measures.find((one) => one.name === name);
  return measure?.outcome === 'measured' ? measure.places : [];
}

/** Whites with their width, edge to edge, in widths of this writer's own o; none where that is not known. */
export function gapsOf(reading: Reading, name: 'word_gap' | 'letter_gap'): { at: BoxMm; oWidths: number }[] {
  const o = reading.measures.find((one) => one.name === 'o_width');
  if (o?.outcome !== 'measured' || o.value <= 0) return [];
  return placesOf(reading, name).map((at) => ({ at, oWidths: (at.x1 - at.x0) / o.value }));
}

/** Letters of a height class that count in the figures. */
export function standing(letters: Letter[], kind: LetterClass): Letter[] {
  return letters.filter((letter) => letter.class === kind && isSure(letter));
}

export const leaningLetters = (letters: Letter[]): (Letter & { slant: number })[] =>
  letters.filter((letter): letter is Letter & { slant: number } => letter.slant !== null && isSure(letter));

/** Further from every rule than this share of their distance, a line has none: not each printed line is found. */
const OWN_RULE = 0.4;

/** How the lines stand to the printed rules, where a rule was found for them. */
export function againstRules({ lines, ruling }: Reading): AgainstRule[] {
  return lines.flatMap(({ baseline }, line): AgainstRule[] => {
    const best = ruling && baseline.length > 0 ? nearestRule(ruling, baseline) : null;
    if (!best || best.far > OWN_RULE * best.pitch) return [];
    const area = [...baseline, ...baseline.map(({ x }) => ({ x, y: best.at(x) })).reverse()];
    return [{ line, rule: best.rule, offset: mean(baseline.map(({ x, y }) => best.at(x) - y)), area }];
  });
}

function nearestRule({ rules, pitch }: RulingFound, baseline: Path) {
  const all = rules.map(([from, to]) => {
    const slope = to.x === from.x ? 0 : (to.y - from.y) / (to.x - from.x);
    const at = (x: number) => from.y + slope * (x - from.x);
    return { at, pitch, rule: [from, to], far: mean(baseline.map(({ x, y }) => Math.abs(at(x) - y))) };
  });
  return all.reduce<(typeof all)[number] | null>((best, one) => (best && best.far <= one.far ? best : one), null);
}

const mean = (values: number[]) => values.reduce((sum, value) => sum + value, 0) / Math.max(1, values.length);

/** Where a letter stands, in mm down the page. */
export function footOf({ foot, bounds, line }: Letter, lines: Line[]): number {
  return foot?.y ?? baselineAt(lines[line], (bounds.x0 + bounds.x1) / 2) ?? bounds.y1;
}

/** The height of the baseline at a place along the line. */
function baselineAt(line: Line | undefined, x: number): number | null {
  const points = line?.baseline ?? [];
  const next = points.findIndex((point) => point.x >= x);
  const [left, right] = [points[next - 1], points[next]];
  if (!left || !right) return (next === 0 ? points[0] : points.at(-1))?.y ?? null;
  return left.y + ((right.y - left.y) * (x - left.x)) / (right.x - left.x);
}

function joinsOf({ joins, letters, lines }: Reading): JoinDrawn[] {
  return joins.flatMap(({ left, verdict, height }) => {
    const [from, to] = [letters[left], letters[left + 1]];
    if (!from || !to) return [];
    const base = footOf(from, lines);
    const xHeight = lines[from.line]?.xHeight ?? null;
    const low = height === null || xHeight === null ? null : base - height * xHeight;
    return [{ at: between(from.bounds, to.bounds), verdict, base, low }];
  });
}

/** The outline of a letter with something to say of its form. */
function formBox(letter: Letter): Overlay['boxes'] {
  if (letter.char === null || isWithoutInk(letter)) return [];
  if (!isSure(letter)) return [{ bounds: letter.bounds, role: 'unsure' }];
  return letter.faults.length > 0 ? [{ bounds: letter.bounds, role: 'fault' }] : [];
}

/** From the middle of one letter to the middle of the next. */
export function between(from: BoxMm, to: BoxMm): BoxMm {
  return {
    x0: (from.x0 + from.x1) / 2,
    y0: Math.min(from.y0, to.y0),
    x1: (to.x0 + to.x1) / 2,
    y1: Math.max(from.y1, to.y1),
  };
}

function bandsOf(lines: Line[]): Path[] {
  return lines.flatMap(({ baseline, xHeight }) => {
    if (xHeight === null || baseline.length === 0) return [];
    const top = baseline.map(({ x, y }) => ({ x, y: y - xHeight })).reverse();
    return [[...baseline, ...top]];
  });
}

const topOf = ({ bounds: { x0, x1, y0 } }: Letter): Path => [{ x: x0, y: y0 }, { x: x1, y: y0 }];

/** A line down the middle of a box. */
function upright({ x0, x1 }: BoxMm, from: number, to: number): Path {
  const x = (x0 + x1) / 2;
  return [{ x, y: from }, { x, y: to }];
}

/** A line through the middle of a box at an angle from upright, as high as the box. */
function leaning({ x0, y0, x1, y1 }: BoxMm, degrees: number): Path {
  const shift = (Math.tan((degrees * Math.PI) / 180) * (y1 - y0)) / 2;
  const middle = (x0 + x1) / 2;
  return [
    { x: middle - shift, y: y1 },
    { x: middle + shift, y: y0 },
  ];
}
