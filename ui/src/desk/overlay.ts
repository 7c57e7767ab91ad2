import {
  type Aspect,
  type BoxMm,
  type CorrectionKind,
  type Letter,
  type LetterClass,
  type Line,
  type MeasureName,
  type PointMm,
  type Reading,
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
export type BoxRole = LetterClass | 'word' | 'gap' | 'fault' | 'unsure' | 'extra' | 'missing' | 'wrongHeight';

/** What is drawn over the picture for one aspect, in millimetres on the page. */
export interface Overlay {
  /** Printed rules. */
  rules: Path[];
  /** Where the letters stand. */
  baselines: Path[];
  /** Closed outlines between baseline and the top of the short letters. */
  bands: Path[];
  boxes: { bounds: BoxMm; role: BoxRole }[];
  /** Downstrokes as they lean. */
  strokes: Path[];
  corrections: { bounds: BoxMm; kind: CorrectionKind }[];
  /** Letters of the text that no ink was found for. */
  skipped: { at: BoxMm; letter: string }[];
}

const nothing = (): Overlay => ({ rules: [], baselines: [], bands: [], boxes: [], strokes: [], corrections: [], skipped: [] });

/** Lays out what a reading has to show of one aspect. */
export function overlayOf(reading: Reading, aspect: Aspect | null): Overlay {
  const overlay = nothing();
  switch (aspect) {
    case 'baseline':
      overlay.rules = (reading.ruling?.rules ?? []).map(([left, right]) => [left, right]);
      overlay.baselines = reading.lines.map((line) => line.baseline);
      break;
    case 'xHeight':
      overlay.bands = bandsOf(reading.lines);
      overlay.boxes = lettersOf(reading, ['short']);
      break;
    case 'reach':
      overlay.bands = bandsOf(reading.lines);
      overlay.boxes = lettersOf(reading, ['tall', 'tail']);
      break;
    case 'gaps':
      overlay.boxes = [
        ...reading.words.map(({ bounds }) => ({ bounds, role: 'word' as const })),
        ...placesOf(reading, 'word_gap').map((bounds) => ({ bounds, role: 'gap' as const })),
      ];
      break;
    case 'slant':
      overlay.strokes = reading.letters.flatMap(({ bounds, slant }) =>
        slant === null ? [] : [leaning(bounds, slant)],
      );
      break;
    case 'corrections':
      overlay.corrections = reading.corrections.map(({ bounds, kind }) => ({ bounds, kind }));
      break;
    case 'form':
      overlay.boxes = [
        ...reading.letters.flatMap(formBox),
        ...(reading.text?.extra ?? []).map((bounds) => ({ bounds, role: 'extra' as const })),
      ];
      overlay.skipped = reading.text?.skipped ?? [];
      break;
    case 'joins':
      overlay.boxes = reading.joins.flatMap(({ left, verdict }) => {
        const [from, to] = [reading.letters[left], reading.letters[left + 1]];
        if (verdict === 'joined' || !from || !to) return [];
        return [{ bounds: between(from.bounds, to.bounds), role: verdict }];
      });
      break;
    case null:
      break;
  }
  return overlay;
}

/** The outline of a letter with something to say of its form. */
function formBox(letter: Letter): Overlay['boxes'] {
  if (letter.char === null || isWithoutInk(letter)) return [];
  if (!isSure(letter)) return [{ bounds: letter.bounds, role: 'unsure' }];
  return letter.faults.length > 0 ? [{ bounds: letter.bounds, role: 'fault' }] : [];
}

/** From the middle of one letter to the middle of the next. */
function between(from: BoxMm, to: BoxMm): BoxMm {
  return {
    x0: (from.x0 + from.x1) / 2,
    y0: Math.min(from.y0, to.y0),
    x1: (to.x0 + to.x1) / 2,
    y1: Math.max(from.y1, to.y1),
  };
}

/** Where on the page a measure was taken. */
export function placesOf(reading: Reading, name: MeasureName | null): BoxMm[] {
  const measure = reading.measures.find((one) => one.name === name);
  return measure?.outcome === 'measured' ? measure.places : [];
}

function lettersOf(reading: Reading, classes: LetterClass[]): Overlay['boxes'] {
  return reading.letters
    .filter((letter) => classes.includes(letter.class))
    .map((letter) => ({ bounds: letter.bounds, role: letter.class }));
}

function bandsOf(lines: Line[]): Path[] {
  return lines.flatMap(({ baseline, xHeight }) => {
    if (xHeight === null || baseline.length === 0) return [];
    const top = baseline.map(({ x, y }) => ({ x, y: y - xHeight })).reverse();
    return [[...baseline, ...top]];
  });
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

/** Points as SVG writes them. */
export function pointsText(points: Path): string {
  return points.map(({ x, y }) => `${x},${y}`).join(' ');
}
