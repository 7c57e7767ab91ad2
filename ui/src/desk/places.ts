import type { Aspect, BoxMm, Letter, PointMm, Reading } from '../bridge/types';
import { stopsOf } from '../amend/stops';
import { stopText } from '../amend/sentences';
import { number, quantity } from '../words/format';
import { words } from '../words/words';
import { areaOf, distance, isSameBox } from './boxes';
import { offsetText } from './drawn';
import { againstRules, between, footOf, gapsOf, leaningLetters, standing } from './overlay';

/** A place of the page with what an aspect says of it. */
export interface Spot {
  at: BoxMm;
  /** Index of the line that it belongs to. */
  line: number;
  says: string;
}

/** The places of an aspect, line by line, each from left to right. */
export function spotsOf(reading: Reading, aspect: Aspect | null): Spot[] {
  if (!aspect) return [];
  return SPOTS[aspect](reading).sort((one, other) => one.line - other.line || one.at.x0 - other.at.x0);
}

/** What is meant by a point: the smallest place under it, or the nearest no further away than `reach`, in mm. */
export function spotAt(all: Spot[], point: PointMm, reach: number): Spot | null {
  let best: { spot: Spot; far: number; area: number } | null = null;
  for (const spot of all) {
    const far = distance(spot.at, point);
    const area = areaOf(spot.at);
    if (far <= reach && (!best || far < best.far || (far === best.far && area < best.area))) best = { spot, far, area };
  }
  return best?.spot ?? null;
}

/** The same place in places of a later reading; `null` where there is none any more. */
export function spotAgain(all: Spot[], before: Spot | null): Spot | null {
  return before && (all.find(({ at }) => isSameBox(at, before.at)) ?? null);
}

const t = words.places;
const named = ({ char, line, class: kind }: Letter) => t.letter(char ?? words.letterClasses[kind], line + 1);

const SPOTS: Record<Aspect, (reading: Reading) => Spot[]> = {
  baseline: (reading) => {
    const offsets = new Map(againstRules(reading).map(({ line, offset }) => [line, offset]));
    return reading.lines.map(({ bounds, drift }, line) => {
      const offset = offsets.get(line);
      const parts = [
        offset === undefined ? t.noRule : t.onRule(offsetText(offset)),
        ...(drift === null ? [] : [leanText(drift, t.climbs, t.sinks, t.level)]),
      ];
      return { at: bounds, line, says: t.says(t.line(line + 1), parts.join(', ')) };
    });
  },
  xHeight: ({ letters }) =>
    standing(letters, 'short').map((letter) =>
      ofLetter(letter, t.high(quantity(letter.bounds.y1 - letter.bounds.y0, 'mm'))),
    ),
  reach: ({ letters, lines }) => [
    ...standing(letters, 'tall').map((letter) =>
      inXHeights(letter, letter.bounds.y1 - letter.bounds.y0, lines[letter.line]?.xHeight, t.tall),
    ),
    ...standing(letters, 'tail').map((letter) =>
      inXHeights(letter, letter.bounds.y1 - footOf(letter, lines), lines[letter.line]?.xHeight, t.deep),
    ),
  ],
  form: (reading) => stopsTold(reading, 'form'),
  joins: ({ joins, letters }) =>
    joins.flatMap(({ left, verdict }): Spot[] => {
      const [from, to] = [letters[left], letters[left + 1]];
      if (!from || !to) return [];
      const pair = t.pair(from.char ?? '', to.char ?? '', from.line + 1);
      return [{ at: between(from.bounds, to.bounds), line: from.line, says: t.says(pair, words.joinVerdicts[verdict]) }];
    }),
  gaps: (reading) => [...gapsTold(reading, 'word_gap', t.wordGap), ...gapsTold(reading, 'letter_gap', t.letterGap)],
  slant: ({ letters }) =>
    leaningLetters(letters).map((letter) => ofLetter(letter, leanText(letter.slant, t.forward, t.back, t.upright))),
  corrections: (reading) => stopsTold(reading, 'corrections'),
};

function ofLetter(letter: Letter, value: string): Spot {
  return { at: letter.bounds, line: letter.line, says: t.says(named(letter), value) };
}

function inXHeights(letter: Letter, mm: number, xHeight: number | null | undefined, say: (value: string) => string): Spot {
  const value = xHeight ? t.xHeights(number(mm / xHeight, 'ratio')) : quantity(mm, 'mm');
  return ofLetter(letter, say(value));
}

/** An angle without its sign, said by where it leads. */
function leanText(degrees: number, more: (value: string) => string, less: (value: string) => string, none: string): string {
  const value = quantity(Math.abs(degrees), 'degrees');
  if (value === quantity(0, 'degrees')) return none;
  return degrees > 0 ? more(value) : less(value);
}

function gapsTold(reading: Reading, name: 'word_gap' | 'letter_gap', say: (after: string, line: number) => string): Spot[] {
  return gapsOf(reading, name).map(({ at, oWidths }) => {
    const line = lineAt(reading, at);
    const middle = (at.x0 + at.x1) / 2;
    const before = reading.letters.filter((one) => one.line === line && (one.bounds.x0 + one.bounds.x1) / 2 < middle).at(-1);
    const word = before && reading.words[before.word]?.text;
    const after = (name === 'word_gap' ? word : before?.char) ?? '';
    return { at, line, says: t.says(say(after, line + 1), quantity(oWidths, 'oWidths')) };
  });
}

/** The line whose baseline runs nearest below a box. */
function lineAt({ lines }: Reading, at: BoxMm): number {
  const far = lines.map(({ baseline, bounds }) => Math.abs((baseline[0]?.y ?? bounds.y1) - at.y1));
  return Math.max(0, far.indexOf(Math.min(...far)));
}

function stopsTold(reading: Reading, aspect: Aspect): Spot[] {
  return stopsOf(reading, aspect).map((stop) => ({
    at: stop.at,
    line: stop.of === 'letter' ? stop.letter.line : stop.of === 'skipped' ? stop.line : lineAt(reading, stop.at),
    says: stopText(stop),
  }));
}
