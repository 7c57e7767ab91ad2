/** Where a person is. The address after `#` says the same, so that back and reload work. */
export type Route =
  | { at: 'home' }
  | { at: 'add' }
  | { at: 'pupil'; pupil: string }
  | { at: 'desk'; pupil: string; page: string }
  | { at: 'compare'; pupil: string; page: string; other: string | null }
  | { at: 'letters'; pupil: string; text: string | null }
  | { at: 'week'; pupil: string }
  | { at: 'result'; pupil: string; page: string }
  | { at: 'replies'; pupil: string | null }
  | { at: 'practice'; pupil: string | null }
  | { at: 'more' }
  | { at: 'progress'; pupil: string | null }
  | { at: 'devices'; pupil: string | null }
  | { at: 'settings' };

const ID = /^[0-9a-f]{32}$/;

function id(part: string | undefined): string | null {
  return part !== undefined && ID.test(part) ? part : null;
}

/** The longest word that is looked for. */
const MOST_TEXT_CHARS = 60;

function text(part: string | undefined): string | null {
  try {
    const read = decodeURIComponent(part ?? '').trim();
    return read !== '' && [...read].length <= MOST_TEXT_CHARS ? read : null;
  } catch {
    return null;
  }
}

/** Reads an address; whatever is not understood leads home. */
export function readRoute(fragment: string): Route {
  const [at, first, second, third] = fragment.replace(/^#\/?/, '').split('/');
  const pupil = id(first);
  const page = id(second);
  switch (at) {
    case 'add':
    case 'settings':
    case 'more':
      return { at };
    case 'replies':
    case 'practice':
    case 'progress':
    case 'devices':
      return { at, pupil };
    case 'pupil':
    case 'week':
      return pupil ? { at, pupil } : { at: 'home' };
    case 'letters':
      return pupil ? { at, pupil, text: text(second) } : { at: 'home' };
    case 'compare':
      return pupil && page ? { at, pupil, page, other: id(third) } : { at: 'home' };
    case 'desk':
    case 'result':
      return pupil && page ? { at, pupil, page } : { at: 'home' };
    default:
      return { at: 'home' };
  }
}

/** Writes an address. */
export function hrefOf(route: Route): string {
  const parts: string[] = [route.at];
  if ('pupil' in route && route.pupil) parts.push(route.pupil);
  if ('page' in route) parts.push(route.page);
  if ('other' in route && route.other) parts.push(route.other);
  if ('text' in route && route.text) parts.push(encodeURIComponent(route.text));
  return `#/${parts.join('/')}`;
}
