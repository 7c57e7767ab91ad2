import { describe, expect, it } from 'vitest';
import { hrefOf, readRoute, type Route } from './route';

const PUPIL = '0123456789abcdef0123456789abcdef';
const PAGE = 'fedcba9876543210fedcba9876543210';

const ROUTES: Route[] = [
  { at: 'home' },
  { at: 'add' },
  { at: 'pupil', pupil: PUPIL },
  { at: 'desk', pupil: PUPIL, page: PAGE },
  { at: 'letters', pupil: PUPIL, text: null },
  { at: 'letters', pupil: PUPIL, text: 'o’clock/50 %' },
  { at: 'week', pupil: PUPIL },
  { at: 'result', pupil: PUPIL, page: PAGE },
  { at: 'replies', pupil: null },
  { at: 'replies', pupil: PUPIL },
  { at: 'progress', pupil: null },
  { at: 'devices', pupil: PUPIL },
  { at: 'settings' },
];

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
