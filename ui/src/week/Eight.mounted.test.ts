import { describe, expect, it } from 'vitest';
import type { AspectVerdict, PageView } from '../bridge/types';
import { figureOf } from '../pupil/sample';
import { type Mounted, show, textOf } from '../testing/mounted';
import { pageViewOf } from '../testing/samples';
import Eight from './Eight.svelte';

const gaps = figureOf({ name: 'word_gap', aspect: 'gaps', value: 1.6, se: 0.1, n: 20 });
const form = figureOf({ name: 'well_formed', aspect: 'form', unit: 'share', value: 0.9, se: 0.02, n: 80 });
const verdicts: AspectVerdict[] = [
  { aspect: 'gaps', kind: 'copied', verdict: 'better', pages: 6 },
  { aspect: 'slant', kind: 'copied', verdict: 'tooFewPages', pages: 1 },
  { aspect: 'form', kind: 'copied', verdict: 'worse', pages: 6 },
];

const eight = (more: Partial<PageView> = {}) =>
  show(Eight, { view: pageViewOf({ figures: [gaps, form], ...more }), verdicts }, { data: [] });

const HEADINGS = ['Baseline', 'x-height', 'Reach', 'Letter form', 'Joins', 'Gaps', 'Slant', 'Corrections'];
/** What stands under the heading of an aspect. */
function under(screen: Mounted, aspect: string): string {
  const heading = screen.one('heading', aspect);
  return textOf(heading.parentElement as HTMLElement);
}
/** The button that unfolds an aspect, by both of its parts. */
function unfolds(screen: Mounted, says: string, aspect: string): HTMLElement {
  const found = screen.all('button').filter((one) => textOf(one).startsWith(says) && textOf(one).endsWith(aspect));
  expect(found).toHaveLength(1);
  return found[0] as HTMLElement;
}

describe('the eight things looked at', () => {
  it('stand in their order, each with an answer in plain words', async () => {
    const screen = await eight();
    expect(screen.texts('heading')).toEqual(HEADINGS);
    expect(under(screen, 'Gaps')).toContain('Between words there is room for 1.60 letters o.');
    expect(under(screen, 'Gaps')).toContain('So far: better, by more than the ordinary up and down.');
    expect(under(screen, 'Slant')).toBe('Slant Not measured yet: for this one, go by eye.');
  });

  it('say of letters only that the tutor looks first, as long as the tutor has not', async () => {
    const waiting = await eight({ lettersShown: false });
    expect(under(waiting, 'Letter form')).toBe(
      'Letter form The tutor looks at the letters first. What is found shows here afterwards.',
    );
    expect(waiting.all('button').map(textOf).filter((text) => text.endsWith('Letter form'))).toEqual([]);
    const looked = await eight();
    expect(under(looked, 'Letter form')).toContain('In 90 % of the letters judged, nothing amiss was found.');
    expect(under(looked, 'Letter form')).toContain('So far: not as good as a while ago.');
  });

  it('show one at a time on the page, with its figures', async () => {
    const screen = await eight();
    const gapsButton = unfolds(screen, 'Show it on the page', 'Gaps');
    expect(gapsButton.getAttribute('aria-expanded')).toBe('false');
    gapsButton.click();
    await screen.settled();
    expect(unfolds(screen, 'Hide it', 'Gaps').getAttribute('aria-expanded')).toBe('true');
    const figures = screen.one('list', 'Figures: Gaps');
    expect(textOf(figures)).toContain('Space between words');
    expect(textOf(figures)).toContain('1.60 ± 0.10 o-widths');
    unfolds(screen, 'Show it on the page', 'Letter form').click();
    await screen.settled();
    expect(screen.all('list', 'Figures: Gaps')).toEqual([]);
    screen.one('list', 'Figures: Letter form');
  });

  it('say to whoever cannot see it how many places of a figure are shown', async () => {
    const screen = await eight();
    unfolds(screen, 'Show it on the page', 'Gaps').click();
    await screen.settled();
    const figure = screen.all('button', undefined, screen.one('list', 'Figures: Gaps'))[0] as HTMLElement;
    expect(figure.getAttribute('aria-pressed')).toBe('false');
    figure.click();
    await screen.settled();
    expect(figure.getAttribute('aria-pressed')).toBe('true');
    expect(screen.session.saying.places.filter(Boolean)).toHaveLength(1);
  });

  it('say that the picture is on its way where it has not arrived', async () => {
    const screen = await eight({ pictureHere: false });
    unfolds(screen, 'Show it on the page', 'Gaps').click();
    await screen.settled();
    expect(screen.all('img')).toEqual([]);
    screen.one('list', 'Figures: Gaps');
  });
});
