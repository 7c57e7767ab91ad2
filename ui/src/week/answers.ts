import type { Aspect, AspectVerdict, Figure, MeasureName, TaskKind, Verdict } from '../bridge/types';
import { number } from '../words/format';
import { words } from '../words/words';

type Written = (value: string) => string;

/** What a page shows of one aspect, in plain words; where nothing was measured, why. */
export function answerOf(aspect: Aspect, figures: readonly Figure[]): string {
  const t = words.answers;
  const about = figures.filter((figure) => figure.aspect === aspect);
  const value = (name: MeasureName) => about.find((figure) => figure.name === name)?.value ?? null;
  /** A sentence about a measure, as its unit is written. */
  const say = (name: MeasureName, write: Written) => {
    const figure = about.find((one) => one.name === name);
    return figure && figure.value !== null ? [write(number(figure.value, figure.unit))] : [];
  };
  /** A coefficient of variation reads as per cent. */
  const differ = (name: MeasureName, write: Written) => {
    const found = value(name);
    return found === null ? [] : [write(number(found, 'share'))];
  };
  const said = ((): string[] => {
    switch (aspect) {
      case 'baseline': {
        const onLine = say('on_line', t.onLine);
        return onLine.length > 0 ? onLine : say('wander', t.wander);
      }
      case 'xHeight':
        return [...say('x_height', t.height), ...differ('x_height_cv', t.heightsDiffer)];
      case 'reach':
        return [...say('ascender_ratio', t.tall), ...say('descender_ratio', t.tails)];
      case 'form':
        return say('well_formed', t.wellFormed);
      case 'joins':
        return say('joins_made', t.joinsMade);
      case 'gaps':
        return [...say('word_gap', t.wordGap), ...differ('word_gap_cv', t.gapsDiffer)];
      case 'slant':
        return [...leaning(value('slant')), ...say('slant_sd', t.slantDiffers)];
      case 'corrections':
        return value('corrections') === 0 ? [t.noCorrections] : say('corrections', t.corrections);
    }
  })();
  if (said.length > 0) return said.join(' ');
  const because = about.find((figure) => figure.because !== null)?.because;
  return because ? words.notMeasured(words.whyNot[because]) : words.notMeasuredYet;
}

/** Whole degrees: nobody sees less. */
function leaning(degrees: number | null): string[] {
  if (degrees === null) return [];
  const whole = Math.round(Math.abs(degrees));
  if (whole === 0) return [words.answers.upright];
  return [(degrees > 0 ? words.answers.leansForward : words.answers.leansBack)(String(whole))];
}

/** What the pages of one kind say of an aspect so far; `null` where no page says anything. */
export function verdictOf(verdicts: readonly AspectVerdict[], aspect: Aspect, kind: TaskKind): Verdict | null {
  return verdicts.find((one) => one.aspect === aspect && one.kind === kind)?.verdict ?? null;
}

/** One warm sentence on what is worked on. */
export function focusSentence(aspect: Aspect, verdict: Verdict | null): string {
  const t = words.result;
  return t.focusIs(t.subjects[aspect], verdict === null ? t.focusUnmeasured : t.verdicts[verdict]);
}
