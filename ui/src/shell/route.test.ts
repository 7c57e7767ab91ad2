import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { hrefOf, readRoute, type Route } from './route';

const PUPIL = '0123456789abcdef0123456789abcdef';
const PAGE = 'fedcba9876543210fedcba9876543210';

const ROUTES: Route[] = [
  { at: 'home' },
  { at: 'add' },
  { at: 'pupil', pupil: PUPIL },
  { at: 'desk', pupil: PUPIL, page: PAGE },
  { at: 'compare', pupil: PUPIL, page: PAGE, other: null },
  { at: 'compare', pupil: PUPIL, page: PAGE, other: PUPIL },
  { at: 'letters', pupil: PUPIL, text: null },
  { at: 'letters', pupil: PUPIL, text: 'o’clock/50 %' },
  { at: 'week', pupil: PUPIL },
  { at: 'result', pupil: PUPIL, page: PAGE },
  { at: 'replies', pupil: null },
  { at: 'replies', pupil: PUPIL },
  { at: 'practice', pupil: null },
  { at: 'practice', pupil: PUPIL },
  { at: 'more' },
  { at: 'progress', pupil: null },
  { at: 'devices', pupil: PUPIL },
  { at: 'settings' },
];

/** Every kind of place; the compiler misses one that lacks here. */
const KINDS = Object.keys({
  home: 1, add: 1, pupil: 1, desk: 1, compare: 1, letters: 1, week: 1, result: 1, replies: 1, practice: 1, more: 1,
  progress: 1, devices: 1, settings: 1,
} satisfies Record<Route['at'], 1>);

describe('kinds of places', () => {
  it.each(KINDS)('%s is tried here, and looked at with all screens', (at) => {
    expect(ROUTES.some((route) => route.at === at)).toBe(true);
    const all = readFileSync(new URL('../../e2e/lib/routes.mjs', import.meta.url), 'utf8');
    expect(all).toMatch(new RegExp(`'#/${at}[/']`));
  });
});

describe('addresses', () => {
  it.each(ROUTES)('$at survives writing and reading', (route) => {
    expect(readRoute(hrefOf(route))).toEqual(route);
  });

  it.each(['', '#', '#/', '#/nowhere', '#/pupil', '#/pupil/xyz', `#/desk/${PUPIL}`, `#/desk/${PUPIL}/../x`, '#s=abc'])(
    'what is not understood leads home: %s',
    (fragment) => {
      expect(readRoute(fragment)).toEqual({ at: 'home' });
    },
  );

  it.each(['', '/', '/%E0%A4%A', `/${'a'.repeat(61)}`])('drops a text that is none: %s', (text) => {
    expect(readRoute(`#/letters/${PUPIL}${text}`)).toEqual({ at: 'letters', pupil: PUPIL, text: null });
  });

  it('drops an id that is none', () => {
    expect(readRoute('#/devices/<script>')).toEqual({ at: 'devices', pupil: null });
  });
});
