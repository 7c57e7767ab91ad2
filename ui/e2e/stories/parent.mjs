// What a parent does on a telephone, from sitting down to the page that has reached the tutor.
import { drawn, screenHolds } from '../lib/checks.mjs';
import { Person } from '../lib/people.mjs';
import { expect } from '../lib/steps.mjs';

/** What the parent answers to a mark. */
export const ANSWER = 'We read it aloud, word by word.';
const NO_PICTURE = { name: 'page.jpg', mimeType: 'image/jpeg', buffer: Buffer.from('this is no picture') };
const SET_UP = 'Before they start';
/** Taps from opening the program to the page being with the tutor, the camera's own left out. */
const MOST_TAPS = 6;

/** Counts from now on what a thumb does. */
function taps(page) {
  return page.evaluate(() => {
    if (window.taps === undefined) addEventListener('pointerup', () => (window.taps += 1), { capture: true });
    window.taps = 0;
  });
}

/** Whether all of it is in sight, and nothing lies over it. */
async function inSight(locator) {
  return locator.evaluate((element) => {
    const { left, top, width, height } = element.getBoundingClientRect();
    const at = (share) => document.elementFromPoint(left + width / 2, top + height * share);
    return [0.05, 0.95].every((share) => element.contains(at(share)));
  });
}

/** What went wrong is told where it is seen, and read out by having the focus. */
async function refused(page) {
  const note = page.locator('[data-taking]').getByRole('group');
  await note.waitFor();
  expect(await note.evaluate((one) => one === document.activeElement), 'what went wrong is not read out');
  expect(await inSight(note), 'what went wrong is out of sight');
}

/** A photograph of a table without a sheet. */
async function table(page) {
  const picture = await page.evaluate(() => {
    const canvas = Object.assign(document.createElement('canvas'), { width: 900, height: 1200 });
    const brush = canvas.getContext('2d');
    brush.fillStyle = '#5a5148';
    brush.fillRect(0, 0, 900, 1200);
    return canvas.toDataURL('image/jpeg', 0.9).split(',')[1];
  });
  return { name: 'table.jpg', mimeType: 'image/jpeg', buffer: Buffer.from(picture, 'base64') };
}

/**
 * A parent, paired, before the first page: a look at how the child sits, a picture that is none, one without a sheet,
 * corners put right, and the page itself. `parent` is a `Person`, the child writes with the left hand, `photo` is the path
 * of a page with the text of the one task that is set. Afterwards the parent is at what the page shows.
 */
export async function photographing(step, parent, photo) {
  const { page } = parent;
  const camera = page.locator('input[name=camera]');
  const chooser = page.locator('input[name=picture]');

  await step('before the child writes, the parent looks how it sits', async () => {
    await parent.button('Look').click();
    await parent.heading(SET_UP).waitFor();
    // The child writes with the left hand.
    await page.getByText(/^Lies left of the middle, turned clockwise/).waitFor();
    await page.getByText(/^Comes from the right/).waitFor();
    await page.getByText('Seat and table for your child’s height').click();
    await page.getByLabel('Height in cm').fill('128');
    await parent.button('Look it up').click();
    // EN 1729-1: 1280 mm lies in size mark 3 (1190 to 1420 mm), and in no other.
    await page.getByText('Seat about 35 cm high, table about 59 cm (size 3).').waitFor();
    await parent.button('Feet: Not yet').click();
    await parent.button('Light: Fine').click();
    await screenHolds(page, 'set-up');
    await parent.button('Save').first().click();
    await page.getByText('How they sit, not yet this week: feet.').waitFor();
    await page.reload();
    await page.getByText('How they sit, not yet this week: feet.').waitFor();
    expect((await parent.heading(SET_UP).count()) === 0, 'it is asked for again though it was done this week');
  });

  await step('a file that is no picture is refused with what to do', async () => {
    await chooser.setInputFiles(NO_PICTURE);
    await refused(page);
    await screenHolds(page, 'photo-refused');
  });

  await step('where no sheet is found the parent shows its corners by hand', async () => {
    await chooser.setInputFiles(await table(page));
    await parent.heading('No sheet of paper was found.').waitFor({ timeout: 60_000 });
    await screenHolds(page, 'photo-no-sheet');
    await parent.button('Show the corners by hand').click();
    const picture = page.getByRole('application', { name: 'The photograph with the four corners of the sheet' });
    const box = await picture.boundingBox();
    for (const [x, y] of [[0.2, 0.3], [0.8, 0.3], [0.85, 0.75], [0.15, 0.75]]) {
      await picture.click({ position: { x: x * box.width, y: y * box.height } });
    }
    await page.getByText('Bottom left: 15 % from the left, 75 % from the top.').waitFor();
    await screenHolds(page, 'photo-corners');
    await parent.button('Use this').click();
    // There is a sheet now, and nothing on it.
    await parent.heading('This page will be hard to read.').waitFor({ timeout: 60_000 });
    await parent.confirm('Do not keep it');
    await parent.button('Show all of it').waitFor();
  });

  await step('corners are moved by keys and by buttons, and the page is cut out anew', async () => {
    await camera.setInputFiles(photo);
    await parent.heading('This page can be read.').waitFor({ timeout: 60_000 });
    await parent.button('The corners are not right').click();
    const said = page.getByText(/^Top left: \d+ % from the left/);
    const before = await said.innerText();
    await parent.button('Large steps').click();
    await parent.button('Down').click();
    expect((await said.innerText()) !== before, 'the button moved nothing');
    const picture = page.getByRole('application');
    await picture.focus();
    await page.keyboard.press('ArrowUp');
    expect((await said.innerText()) === before, 'the key did not move it back');
    await picture.scrollIntoViewIfNeeded();
    const grip = await page.locator('[data-corner=bottomRight]').boundingBox();
    const middle = { x: grip.x + grip.width / 2, y: grip.y + grip.height / 2 };
    await page.mouse.move(middle.x, middle.y);
    await page.mouse.down();
    await page.mouse.move(middle.x - 40, middle.y - 30, { steps: 4 });
    await page.mouse.up();
    await page.getByText(/^Bottom right: /).waitFor();
    await parent.button('Let the program look again').click();
    await parent.heading('This page can be read.').waitFor({ timeout: 60_000 });
  });

  const waits = page.getByRole('heading', { name: /^Waiting: Copied, set on .* · written on / });
  const lookAgain = async (at) => {
    await at.getByRole('button', { name: 'Look at it' }).click();
    await at.getByRole('heading', { name: 'This page can be read.' }).waitFor({ timeout: 60_000 });
  };

  await step('a photograph that is not kept yet waits, whatever is closed', async () => {
    await page.reload();
    await waits.waitFor();
    const small = await page.locator('[data-waits] img').evaluate(async (image) => {
      await image.decode();
      return Math.max(image.naturalWidth, image.naturalHeight);
    });
    expect(small > 100 && small <= 240, `its small picture has ${small} pixels`);
    await screenHolds(page, 'photo-waiting');
    await chooser.setInputFiles(NO_PICTURE);
    await refused(page);
    await lookAgain(page);
    await page.getByAltText('The page as the program sees it').waitFor();
    await page.getByText(/^For: Copied, set on /).waitFor();
  });

  await step('one that shows less does not take its place', async () => {
    await chooser.setInputFiles(await table(page));
    await parent.heading('No sheet of paper was found.').waitFor({ timeout: 60_000 });
    await page.getByText('The photograph before this one still waits too').waitFor();
    await screenHolds(page, 'photo-earlier-stays');
    await parent.confirm('Do not keep it');
    await waits.waitFor();
    expect(await waits.evaluate((one) => one === document.activeElement), 'nothing leads back to the one that waits');
  });

  await step('one that another screen lets go is laid down here, and is gone for good', async () => {
    await lookAgain(page);
    const other = await page.context().newPage();
    await other.goto(page.url());
    await lookAgain(other);
    await new Person(other).confirm('Do not keep it');
    const told = page.getByRole('group', { name: 'This photograph waits no longer.' });
    await told.waitFor();
    expect((await parent.button('Keep this page').count()) === 0, 'it can still be kept');
    await screenHolds(page, 'photo-elsewhere');
    await other.close();
    const answer = page.waitForResponse((response) => response.url().endsWith('/call/waiting_photos'));
    await page.reload();
    const { photos } = await (await answer).json();
    expect(photos.length === 0, 'it waits though it was let go');
    await parent.button('Show all of it').waitFor();
    await drawn(page);
    expect((await page.locator('[data-waits]').count()) === 0, 'it is shown to wait though it was let go');
  });

  await step(`from opening the program to the page being with the tutor takes at most ${MOST_TAPS} taps`, async () => {
    await page.goto(new URL('/#/home', page.url()).href);
    await page.reload();
    await parent.button('Show all of it').waitFor();
    await taps(page);
    const take = page.locator('label:has(input[name=camera])');
    expect(await inSight(take), 'to take the photograph one has to scroll');
    const [dialog] = await Promise.all([page.waitForEvent('filechooser'), take.click()]);
    await dialog.setFiles(photo);
    await parent.heading('This page can be read.').waitFor({ timeout: 60_000 });
    await page.getByAltText('The page as the program sees it').waitFor();
    expect(await inSight(parent.button('Keep this page')), 'to keep the page one has to scroll');
    await screenHolds(page, 'photo-staged');
    await parent.button('Keep this page').click();
    await page.getByText('Thank you. The page is kept.').waitFor({ timeout: 60_000 });
    const send = page.getByRole('button', { name: /^(Send now|Switch it on and send)$/ });
    const has = page.getByText('The tutor has this page.');
    // The devices may have met by themselves in the meantime.
    await send.or(has).waitFor();
    if (await send.isVisible()) await send.click();
    await has.waitFor({ timeout: 30_000 });
    const counted = await page.evaluate(() => window.taps);
    expect(counted > 1 && counted <= MOST_TAPS, `it took ${counted} taps`);
    console.log(`  taps from opening to the page being with the tutor: ${counted}`);
  });

  await step('what the page shows is answered in plain words, the picture and the figures one tap deeper', async () => {
    const baseline = page.locator('[data-answer=baseline]');
    await baseline.getByText(/letters stand on the printed line\.$/).waitFor();
    expect((await page.locator('[data-figure]').count()) === 0, 'figures stand before the answers');
    await page.locator('[data-answer=form]').getByText('The tutor looks at the letters first.').waitFor();
    await baseline.getByRole('button', { name: /^Show it on the page/ }).click();
    await baseline.locator('[data-overlay] > *').first().waitFor({ state: 'attached' });
    await baseline.getByRole('list', { name: 'Figures: Baseline' }).locator('[data-figure]').first().waitFor();
    await screenHolds(page, 'result');
  });

  await step('minutes that the parent gives become a pace, beside a study', async () => {
    await page.getByText('How long did the page take?').click();
    const pace = page.locator('[data-pace]');
    await pace.getByText('Not measured: nobody timed the page.').waitFor();
    await pace.getByLabel('Minutes it took').fill('5');
    await parent.button('Save the minutes and measure again').click();
    await pace.getByText(/± .* letters a minute/).waitFor({ timeout: 60_000 });
    await pace.getByText('What other children wrote in a study').click();
    expect((await pace.locator('tbody tr').count()) === 9, 'the table has nine grades');
    await screenHolds(page, 'result-timed');
  });

  await step('practice is noted in two taps, and can be taken back', async () => {
    await parent.menu('Practice');
    await taps(page);
    await page.getByText('15 min', { exact: true }).click();
    await parent.button('Done').click();
    await page.locator('[data-held]').getByText('15 minutes noted for today.').waitFor();
    const counted = await page.evaluate(() => window.taps);
    expect(counted === 2, `it took ${counted} taps`);
    await screenHolds(page, 'practice');
    await parent.button('Undo').click();
    await page.getByText('10 min', { exact: true }).click();
    await parent.button('Done').click();
    // On leaving the screen it is in the book.
    await parent.menu('Progress');
    await parent.menu('Practice');
    await page.getByText(/^Week of .*: 10 minutes$/).waitFor();
    await page.getByText('Was something noted by a slip?').click();
    await parent.confirm(/^Take back 10 minutes of /);
    await page.getByText(/^Week of .*: 10 minutes$/).waitFor({ state: 'detached' });
    await page.getByText('10 min', { exact: true }).click();
    await parent.button('Done').click();
    await parent.menu('Progress');
    await parent.menu('Practice');
    await page.getByText(/^Week of .*: 10 minutes$/).waitFor();
    await parent.menu('More');
    expect((await page.locator('[data-reminder]').count()) === 0, 'a reminder is offered where none can be shown');
    await screenHolds(page, 'more');
  });
}

/**
 * After marks have reached the parent, who is at “From the tutor”: half-typed words stay, and an answer stands with its
 * mark. `work` is the sentence of the mark that is answered.
 */
export async function answering(step, parent, work) {
  const { page } = parent;

  await step('an answer to a mark outlives leaving the screen half-typed, and stands with the mark', async () => {
    const mark = page.getByRole('listitem').filter({ hasText: work }).first();
    await mark.getByRole('button', { name: /^Answer mark/ }).click();
    await page.getByLabel('Your words').fill(ANSWER.slice(0, 14));
    await parent.menu('This week');
    await parent.menu('From the tutor');
    await mark.getByRole('button', { name: /^Answer mark/ }).click();
    await page.getByText('These are the words that you had begun with before.').waitFor();
    const field = page.getByLabel('Your words');
    expect((await field.inputValue()) === ANSWER.slice(0, 14), 'what was typed is lost');
    await field.fill(ANSWER);
    await screenHolds(page, 'reply');
    await parent.button('Send').click();
    await mark.getByText(ANSWER).waitFor();
    await mark.getByText(/^You, /).waitFor();
  });
}
