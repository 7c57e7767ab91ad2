// A tutor's practice of many pupils, by the program's own verbs over its local address.
import { readFile } from 'node:fs/promises';

const WEEKDAYS = ['sunday', 'monday', 'tuesday', 'wednesday', 'thursday', 'friday', 'saturday'];
const NAMES = ['Ada', 'Bo', 'Cleo', 'Dov', 'Ede', 'Fia', 'Gus', 'Hal', 'Ina', 'Jem'];

/** A browser page at the program's address, with a session, that speaks with it: `{ call, keep }`. */
export async function speaking(page, address) {
  await page.goto(address);
  await page.getByRole('heading', { level: 1 }).first().waitFor();
  const send = (path, body, type) =>
    page.evaluate(
      async ([to, text, kind]) => {
        const bytes = kind === 'application/json' ? text : Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
        const answer = await fetch(to, { method: 'POST', headers: { 'content-type': kind }, body: bytes });
        if (!answer.ok) throw new Error(await answer.text());
        return answer.json();
      },
      [path, body, type],
    );
  const call = (verb, input) => send(`/call/${verb}`, JSON.stringify(input), 'application/json');
  return {
    call,
    /** Keeps a page of the test set as one of a pupil's. */
    keep: async (pupil, task, path, writtenOn) => {
      const about = encodeURIComponent(JSON.stringify({ pupil, task, kind: task ? null : 'copied', writtenOn }));
      const photo = (await readFile(path)).toString('base64');
      const { handle } = await send(`/photo?about=${about}`, photo, 'application/octet-stream');
      return (await call('keep_page', { handle, despite: true })).page;
    },
  };
}

/**
 * Settles a tutor with `number` pupils: a lesson for each, spread over the week, a task for each, and for every fifth the
 * pages given, one a week.
 */
export async function fillPractice({ call, keep }, number, pages) {
  await call('settle', { role: 'tutor', name: 'Ms Wren' });
  const { models } = await call('letter_models', {});
  const day = (weeks) => new Date(Date.now() - weeks * 7 * 86_400_000).toISOString().slice(0, 10);
  for (let at = 0; at < number; at += 1) {
    const name = `${NAMES[at % NAMES.length]} ${String.fromCharCode(65 + Math.floor(at / NAMES.length))}`;
    const profile = { name, year: 2 + (at % 4), hand: at % 9 ? 'right' : 'left', model: models[0], paper: 'a4', ruling: { kind: 'lines', pitch: 8 } };
    const { pupil } = await call('add_pupil', { profile });
    await call('set_lesson', { pupil, lesson: { weekday: WEEKDAYS[at % 7], minute: 900 + 15 * (at % 12) } });
    const [first] = pages;
    await call('set_task', { pupil, kind: 'copied', text: first.text, paper: null, ruling: null, minutes: 10, focus: null, setOn: null });
    if (at % 5 > 0) continue;
    for (const [index, page] of pages.entries()) await keep(pupil, null, page.path, day(pages.length - index));
  }
}

/** Pairs a family's new device with the tutor's for one pupil, and waits until all its pages are there with their pictures. */
export async function pairFamilyOf(pupil, tutor, family) {
  await family.call('settle', { role: 'parent', name: 'Jo' });
  await tutor.call('offer_pairing', { for: 'family', pupil });
  const stage = async ({ call }, wanted) => {
    for (let tries = 0; tries < 300; tries += 1) {
      const state = await call('pairing', {});
      if (state.stage === wanted) return state;
      if (state.stage === 'failed') throw new Error(JSON.stringify(state));
      await new Promise((done) => setTimeout(done, 100));
    }
    throw new Error(`the pairing does not come to “${wanted}”`);
  };
  const { offered } = await stage(tutor, 'waiting');
  await family.call('join_pairing', { code: offered.code, paperKey: null });
  const words = await Promise.all([stage(tutor, 'compare'), stage(family, 'compare')]);
  if (words[0].words.join() !== words[1].words.join()) throw new Error('the words differ');
  for (const one of [tutor, family]) await one.call('confirm_pairing', { same: true });
  await Promise.all([stage(tutor, 'done'), stage(family, 'done')]);
  for (const one of [tutor, family]) await one.call('cancel_pairing', {});
  const { pages } = await tutor.call('pupil', { pupil });
  for (let tries = 0; tries < 60; tries += 1) {
    await tutor.call('exchange', { device: null });
    const here = await family.call('pupil', { pupil }).catch(() => ({ pages: [] }));
    if (here.pages.length === pages.length && here.pages.every(({ picture }) => picture !== null)) return;
    await new Promise((done) => setTimeout(done, 500));
  }
  throw new Error('the pages did not arrive');
}
