// What a tutor does about one pupil between and in lessons: the day's list, the week's task, note, targets, starting point.
import { screenHolds } from '../lib/checks.mjs';
import { expect } from '../lib/steps.mjs';

/** What the tutor notes for nobody else. */
export const NOTE = 'Ask how the new pencil is.';
/** The beginning of one of the texts that are ready. */
export const READY = 'Five brown hens dig up the';
const HALF = 'On the way home we';
/** Presses from seeing the day's list to the week's task being set. */
const MOST_PRESSES = 5;
const SECOND = 'Bo';

const WEEKDAYS = ['Sunday', 'Monday', 'Tuesday', 'Wednesday', 'Thursday', 'Friday', 'Saturday'];

async function toPupil(tutor, name) {
  await tutor.menu('Today');
  await tutor.link(name).click();
  await tutor.heading(name).waitFor();
}

/** Counts what a hand presses. */
function presses(page) {
  return page.evaluate(() => {
    window.presses = 0;
    addEventListener('click', ({ isTrusted }) => (window.presses += isTrusted ? 1 : 0), { capture: true });
  });
}

/** What stands in a field, once it stands there. */
async function holds(page, field, text) {
  await page.waitForFunction(([at, wanted]) => at?.value === wanted, [await field.elementHandle(), text]);
}

/**
 * The tutor has one pupil, `name`, paired with `parent`, who has a task and at least two copied pages, all looked at.
 * Both are `Person`s. Afterwards the tutor is at Today, the pupil has a lesson today, a private note and a starting point.
 */
export async function tutoring(step, tutor, parent, name) {
  const { page } = tutor;
  const lesson = page.getByRole('form', { name: 'Lesson time' });

  await step('a lesson time is set, and the pupil stands under today’s lessons', async () => {
    await toPupil(tutor, name);
    await lesson.getByLabel('Day').selectOption({ label: WEEKDAYS[new Date().getDay()] });
    await lesson.getByLabel('Hour').selectOption('15');
    await lesson.getByLabel('Minutes').selectOption('45');
    await tutor.button('Save the lesson time').click();
    await page.getByText(/days at 15:45$/).waitFor();
    await tutor.menu('Today');
    const today = page.getByRole('region', { name: 'Lessons today' });
    await today.getByText('15:45').waitFor();
    await today.getByRole('link', { name, exact: true }).waitFor();
    await screenHolds(page, 'today-lesson');
  });

  await step('a private note is saved as it is typed, and stays with the tutor', async () => {
    await toPupil(tutor, name);
    const note = page.locator('[data-note]');
    await note.getByRole('textbox').fill(NOTE);
    await note.locator('[data-state=kept]').waitFor();
    await page.reload();
    await holds(page, note.getByRole('textbox'), NOTE);
    // Left at once, it is kept all the same.
    await note.getByRole('textbox').press('End');
    await note.getByRole('textbox').pressSequentially('!');
    await toPupil(tutor, name);
    await holds(page, note.getByRole('textbox'), `${NOTE}!`);
  });

  await step('a task half typed outlives leaving the screen', async () => {
    await tutor.button('Set a new task').click();
    await page.getByLabel('The text to write').fill(HALF);
    await toPupil(tutor, name);
    await tutor.button('Set a new task').click();
    await holds(page, page.getByLabel('The text to write'), HALF);
    await page.getByText('These are the words that you had begun with before.').waitFor();
    await tutor.button('Cancel').click();
  });

  await step(`from Today the week’s task is set in at most ${MOST_PRESSES} presses`, async () => {
    await tutor.menu('Today');
    await tutor.link('Add a pupil').click();
    const first = page.getByLabel('First name or initials');
    await first.fill(SECOND);
    await page.getByRole('radio', { name: 'Left hand' }).check();
    await tutor.menu('Today');
    await tutor.link('Add a pupil').click();
    await holds(page, first, SECOND);
    expect(await page.getByRole('radio', { name: 'Left hand' }).isChecked(), 'half a profile is lost');
    await tutor.button('Add').click();
    await tutor.heading(SECOND).waitFor();
    await tutor.menu('Today');
    const row = page.locator('[data-row]').filter({ has: tutor.link(SECOND) });
    const text = row.getByLabel('The text to write');
    await presses(page);
    await tutor.button(`Set the task for ${SECOND}`).click();
    await row.getByLabel('A text that is ready').selectOption({ label: `${READY}… (3 lines)` });
    await tutor.button('Take this text').click();
    expect((await text.inputValue()).startsWith(READY), 'the text was not taken');
    await screenHolds(page, 'today-task');
    await row.getByRole('button', { name: 'Set the task', exact: true }).click();
    await text.waitFor({ state: 'detached' });
    const counted = await page.evaluate(() => window.presses);
    expect(counted + 1 <= MOST_PRESSES, `it took ${counted} presses and a choice`);
    await page.waitForFunction((wanted) => document.activeElement?.textContent === wanted, SECOND);
    await row.getByText('no page yet').waitFor();
  });

  await step('trying a ready text loses nothing that was typed', async () => {
    await tutor.link(SECOND).click();
    await tutor.button('Set a new task').click();
    const text = page.getByLabel('The text to write');
    await text.fill(HALF);
    await page.getByLabel('A text that is ready').selectOption({ index: 1 });
    await tutor.button('Take this text').click();
    await holds(page, text, [READY, 'garden. A quick jay watches', 'from the wooden box.'].join('\n'));
    await tutor.button('Back to what I had typed').click();
    await holds(page, text, HALF);
  });

  await step('pages become the starting point, and a target is set', async () => {
    await toPupil(tutor, name);
    await page.getByText('The starting point: no pages chosen yet').click();
    const boxes = page.getByRole('group', { name: 'Pages that stand as the starting point' }).getByRole('checkbox');
    await boxes.first().waitFor();
    for (const box of await boxes.all()) await box.check();
    await page.getByText(`The starting point: ${await boxes.count()} pages`).waitFor();
    await screenHolds(page, 'starting');
    await tutor.button('Set a target').click();
    await page.getByLabel('What is to change').selectOption({ label: 'Space between words' });
    await page.getByLabel('Figure to reach, o-widths').fill('0.5');
    await page.getByLabel('By which day').fill('2027-06-30');
    await page.getByText(/on the newest page: (above|below|at) the target\.$/).waitFor();
    await screenHolds(page, 'target');
    await tutor.button('Set the target').click();
    await page.getByText('Space between words: 0.50 o-widths by 30 June 2027').waitFor();
  });

  await step('charts tell target and starting point, on the family’s device too', async () => {
    await tutor.exchange();
    await parent.menu('Progress');
    await toPupil(tutor, name);
    const told = [];
    for (const one of [tutor, parent]) {
      await one.page.getByRole('radio', { name: /^Gaps/ }).check();
      const chart = one.page.locator('[data-chart="word_gap copied"]');
      await chart.getByText(/^Starting point: .* mean of \d pages\.$/).waitFor();
      await chart.getByText('Target: 0.50 o-widths by 30 June 2027.').waitFor();
      told.push(await chart.locator('ul').innerText());
    }
    expect(told[0] === told[1], `${told[0]}\nis not\n${told[1]}`);
    await screenHolds(page, 'pupil-compared');
    await screenHolds(parent.page, 'progress-compared');
  });

  await step('a target is changed, and dropped', async () => {
    await tutor.button('Change the target: Space between words').click();
    await page.getByLabel('Figure to reach, o-widths').fill('0.6');
    await tutor.button('Set the target').click();
    await page.getByText('Space between words: 0.60 o-widths by 30 June 2027').waitFor();
    await tutor.button('Drop the target: Space between words').click();
    await tutor.button('Set a target').waitFor();
  });

  await step('letter findings can be shown to the family before the tutor has looked', async () => {
    const box = page.getByRole('checkbox', { name: /^Show letter findings to the family/ });
    expect(!(await box.isChecked()), 'they are shown though nobody allowed it');
    await box.check();
    await page.reload();
    await page.getByRole('checkbox', { name: /^Show letter findings to the family/, checked: true }).waitFor();
    await box.uncheck();
  });

  await step('the tutor’s own order of pupils is changed without dragging', async () => {
    await tutor.menu('Today');
    await page.getByText('Your own order of pupils').click();
    const order = () => page.locator('[data-order] li > span:first-child').allInnerTexts();
    await tutor.button(`Up: ${SECOND}`).waitFor();
    const before = await order();
    await tutor.button(`Up: ${SECOND}`).click();
    await page.waitForFunction((last) => document.querySelector('[data-order] li')?.innerText.startsWith(last), SECOND);
    expect(JSON.stringify(await order()) !== JSON.stringify(before), 'the order is as before');
    await screenHolds(page, 'order');
    await tutor.button('Order by lesson time').click();
    await page.waitForFunction((first) => document.querySelector('[data-order] li')?.innerText.startsWith(first), name);
    await tutor.link(SECOND).click();
    await page.getByText('Keeping and letting go').click();
    await tutor.confirm('Erase this pupil', SECOND);
    await tutor.heading('Today').waitFor();
    page.errors = page.errors?.filter((error) => !error.includes('422'));
  });
}
