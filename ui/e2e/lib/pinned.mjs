// The same day and hour on every machine, so that pictures of two days can be set beside each other. Pages get another
// clock, and every day and moment that the program tells them is moved by as much.

/** What the clock says in a page: ten in the morning of a Thursday in term. */
export const PINNED = Date.parse('2026-03-12T10:00:00Z');
const DAY_MS = 86_400_000;
const IS_DAY = /^\d{4}-\d{2}-\d{2}$/;
/** A whole number between these is a moment: the years 2015 to 2085, in milliseconds. */
const MOMENTS = [1.42e12, 3.63e12];

/** What a page is told, moved by `by` milliseconds; days by as many days as that moves the day of `from`. */
function moved(value, from, by) {
  const days = Math.floor((from + by) / DAY_MS) - Math.floor(from / DAY_MS);
  const visit = (one) => {
    if (Array.isArray(one)) return one.map(visit);
    if (typeof one === 'string' && IS_DAY.test(one)) return new Date(Date.parse(one) + days * DAY_MS).toISOString().slice(0, 10);
    if (Number.isInteger(one) && one > MOMENTS[0] && one < MOMENTS[1]) return one + by;
    if (typeof one !== 'object' || one === null) return one;
    // Marks come in the order of their ids, which are drawn anew on every device.
    if (Array.isArray(one.marks)) one.marks.sort((a, b) => (a.words < b.words ? -1 : 1));
    return Object.fromEntries(Object.entries(one).map(([key, inside]) => [key, visit(inside)]));
  };
  return visit(value);
}

/** Pins the clock of a browser's context; `from` is the moment that is to be the pinned one. */
export async function pin(context, from) {
  await context.clock.setFixedTime(PINNED);
  await context.route('**/call/*', async (route) => {
    const answer = await route.fetch();
    const told = moved(await answer.json(), from, PINNED - from);
    // The version of the program is no look.
    if (told?.version) told.version = '0.0.0';
    await route.fulfill({ response: answer, json: told });
  });
}
