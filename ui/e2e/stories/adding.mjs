// A tutor adds a page that was written before the program was there, and is called away in between.
import { screenHolds } from '../lib/checks.mjs';
import { expect } from '../lib/steps.mjs';

const ANSWERS = 'Copied · written on 15 January 2026';

/**
 * The tutor, a `Person`, is at the pupil `name`, who has no page of that day; `photo` is the path of a page. Afterwards
 * the tutor is at the desk with it.
 */
export async function addingEarlier(step, tutor, name, photo) {
  const { page } = tutor;
  const keep = tutor.button('Keep this page').or(tutor.button('Keep it anyway'));

  await step('the tutor adds an earlier page, and sees what its photograph answers', async () => {
    await tutor.button('Add a page').click();
    await page.getByLabel('Which task does it answer?').selectOption({ label: 'None of them' });
    await page.getByRole('radio', { name: 'Copied' }).check();
    await page.getByLabel('Day it was written').fill('2026-01-15');
    await page.locator('input[name=picture]').setInputFiles(photo);
    await keep.waitFor({ timeout: 60_000 });
    await page.getByText(`For: ${ANSWERS}`, { exact: true }).waitFor();
    expect((await page.getByLabel('Day it was written').count()) === 0, 'it can still be said what it answers, to no effect');
    await screenHolds(page, 'add-staged');
  });

  await step('called away, the tutor is led back to the photograph that waits, and keeps it', async () => {
    await tutor.menu('Today');
    const waits = tutor.link('1 photograph waits to be kept');
    await waits.waitFor();
    await screenHolds(page, 'today-photo-waits');
    await waits.click();
    await tutor.heading(name).waitFor();
    await tutor.heading(`Waiting: ${ANSWERS}`).waitFor();
    await screenHolds(page, 'add-waiting');
    await tutor.button('Look at it').click();
    await keep.click({ timeout: 60_000 });
    await tutor.heading(`${name}, page of 15 January 2026`).waitFor({ timeout: 60_000 });
  });
}
