// The whole story in a browser: a tutor at a laptop, a parent with a phone and the tutor's other laptop, and another two
// who have a keyboard alone, each with a program of its own.
//
//   node e2e/browser.mjs
//   POTHOOK_SIZE=tablet node e2e/browser.mjs
//
// The second tells the same story with tablets, 768 × 1024, in place of laptops and telephones.
import { readFile } from 'node:fs/promises';
import { chromium } from 'playwright-core';
import { desk, takeBack } from './lib/desk.mjs';
import { foreignTexts, picture, screenHolds } from './lib/checks.mjs';
import { byFile, exported, lettingGo, settings } from './lib/keeping.mjs';
import { Keyboard } from './lib/keyboard.mjs';
import { network, pairFamily, secondLaptop } from './lib/pairing.mjs';
import { Person } from './lib/people.mjs';
import { serve, temporaryFolder, testPages } from './lib/program.mjs';
import { allScreens, goTo } from './lib/routes.mjs';
import { locked, meanwhile } from './lib/standin.mjs';
import { expect, needed, tell } from './lib/steps.mjs';
import { addingEarlier } from './stories/adding.mjs';
import { atTheDesk } from './stories/desk.mjs';
import { ANSWER, answering, photographing } from './stories/parent.mjs';
import { byKeyboard } from './stories/keyboard.mjs';
import { everyScreen } from './stories/screens.mjs';
import { ofTheSheet } from './stories/sheet.mjs';
import { looks, starting } from './stories/start.mjs';
import { NOTE, READY, tutoring } from './stories/tutor.mjs';

const program = needed('POTHOOK_BIN');
const [firstPage, secondPage] = (await testPages(needed('POTHOOK_PAGES'))).filter(
  (page) => page.ruling === 'lines' && page.page_format === 'A4',
);
const SAID = { work: 'These two words run together.', praise: 'Look how evenly the tails hang here.' };
const TRY = 'Leave room for one letter o before each new word.';
const hosts = new Set();
/** What the tutor has on the table, and what the parent has in the hand. */
const USUAL = [{ viewport: { width: 1366, height: 768 } }, { viewport: { width: 390, height: 844 }, hasTouch: true }];
const TABLET = { viewport: { width: 768, height: 1024 }, hasTouch: true };
const tablets = sizeWanted() === 'tablet';

function sizeWanted() {
  const size = process.env.POTHOOK_SIZE ?? '';
  if (size === '' || size === 'tablet') return size;
  console.log(`POTHOOK_SIZE may be “tablet”, not “${size}”.`);
  process.exit(2);
}

async function openPage(browser, address, size, prepare = async () => undefined) {
  const context = await browser.newContext({ ...size, reducedMotion: 'reduce', locale: 'en-GB' });
  context.setDefaultTimeout(15_000);
  context.on('request', (request) => hosts.add(new URL(request.url()).host || new URL(request.url()).protocol));
  await prepare(context);
  const page = await context.newPage();
  page.errors = [];
  page.on('pageerror', (error) => page.errors.push(error.message));
  page.on('console', (message) => {
    if (message.type() === 'error') page.errors.push(`${message.text()} ${message.location().url}`);
  });
  await page.goto(address);
  return page;
}

async function story(step, browser, folders) {
  const programs = await step(`${folders.length} programs start, each with a data folder of its own`, () =>
    Promise.all(folders.map((folder) => serve(program, folder.path))),
  );
  const ends = () => Promise.all(programs.map((one) => one.stop()));
  try {
    await told(step, browser, programs, folders);
  } finally {
    await ends();
  }
}

async function told(step, browser, [tutorProgram, parentProgram, otherProgram, ...byKeys], [, parentFolder]) {
  const [tutorScreen, parentScreen] = tablets ? [TABLET, TABLET] : USUAL;
  const tutor = new Person(await openPage(browser, tutorProgram.address, tutorScreen));
  const parent = new Person(await openPage(browser, parentProgram.address, parentScreen));

  await step('the secret leaves the address bar, and the start explains itself', async () => {
    for (const { page } of [tutor, parent]) {
      await page.getByRole('heading', { name: 'Welcome to Pothook' }).waitFor();
      expect(!page.url().includes('s='), `the address still is ${page.url()}`);
    }
  });

  await step('a page without the secret is told to open the address again', async () => {
    const stranger = await openPage(browser, new URL('/', tutorProgram.address).href, {});
    await stranger.getByRole('heading', { name: 'Please open the page again' }).waitFor();
    await stranger.context().close();
  });

  const stoodFor = (prepare) => openPage(browser, new URL('/', tutorProgram.address).href, parentScreen, prepare);
  await locked(step, stoodFor);
  await meanwhile(step, stoodFor);

  const keyboards = await Promise.all(
    [tutorScreen, parentScreen].map(async ({ viewport }, at) => new Keyboard(await openPage(browser, byKeys[at].address, { viewport }))),
  );
  await byKeyboard(step, ...keyboards, firstPage);
  for (const { page } of keyboards) await page.context().close();

  await starting(step, tutor, parent);
  await looks(step, parent);

  await network(step, tutor);

  await step('the tutor adds a pupil', async () => {
    await tutor.menu('Today');
    await tutor.link('Add a pupil').click();
    await tutor.page.getByLabel('First name or initials').fill('Ada');
    await tutor.page.getByRole('radio', { name: 'Left hand' }).check();
    await tutor.page.getByRole('radio', { name: 'Our own' }).check();
    await tutor.page.locator('[data-form=f] button').first().click();
    await tutor.page.getByRole('group', { name: 'How f is taught' }).waitFor();
    await screenHolds(tutor.page, 'letter-model');
    const [file] = await Promise.all([
      tutor.page.waitForEvent('download'),
      tutor.button('Save these letters as a file').click(),
    ]);
    await tutor.page.locator('input[name=letters]').setInputFiles(await file.path());
    expect((await tutor.page.locator('[data-form]').count()) === 26, 'a file of letters has 26 of them');
    await tutor.page.getByRole('radio', { name: 'Unjoined' }).check();
    await screenHolds(tutor.page, 'add-pupil');
    await tutor.button('Add').click();
    await tutor.heading('Ada').waitFor();
  });

  await step('the tutor sets the week’s task', async () => {
    await tutor.button('Set the task').click();
    await tutor.page.getByLabel('The text to write').fill(firstPage.text.join('\n'));
    await tutor.page.getByLabel('What to work on').selectOption({ label: 'Gaps' });
    await screenHolds(tutor.page, 'task');
    await tutor.button('Set the task').click();
    await tutor.page.locator('blockquote').getByText(firstPage.text[0]).waitFor();
  });

  await pairFamily(step, tutor, parent);

  await step('the task reaches the parent', async () => {
    await parent.exchange();
    await parent.menu('This week');
    await parent.heading('Copy this text').waitFor();
    await screenHolds(parent.page, 'week');
  });

  await photographing(step, parent, firstPage.path);

  await step('the page travels to the tutor, and Enter opens it', async () => {
    await parent.exchange();
    await tutor.menu('Today');
    await tutor.link('Look at the new page of Ada').first().waitFor();
    await screenHolds(tutor.page, 'today');
    await tutor.page.reload();
    const next = tutor.link('Look at the new page of Ada').first();
    await next.waitFor();
    expect(await next.evaluate((link) => link === document.activeElement), 'the next page has not the focus');
    await tutor.page.keyboard.press('Enter');
    await tutor.button('Mark as looked at').waitFor();
  });

  const deskAt = tutor.page.url();
  await desk(step, tutor, SAID);

  await step('the tutor starts a focus with a sentence', async () => {
    await tutor.link('Back to Ada').click();
    await tutor.button('Start a focus').click();
    await tutor.page.locator('[aria-labelledby=focus-title]').getByLabel('What to work on').selectOption({ label: 'Gaps' });
    await tutor.page.getByLabel('What to try').fill(TRY);
    await tutor.button('Start a focus').click();
    await tutor.page.getByText(/^Gaps, since/).waitFor();
  });

  await addingEarlier(step, tutor, 'Ada', secondPage.path);
  await atTheDesk(step, tutor);
  await ofTheSheet(step, tutor);

  await step('one letter is seen through the weeks', async () => {
    await tutor.link('Back to Ada').click();
    await tutor.link('Letters through the weeks').click();
    await tutor.link('e').click();
    await tutor.heading('e through the weeks').waitFor();
    const rows = tutor.page.locator('[data-letters-of]');
    await rows.nth(0).waitFor();
    const drawn = await rows.nth(0).locator('img').first().evaluate(async (image) => {
      await image.decode();
      return image.naturalWidth > 0;
    });
    expect(drawn, 'no letter is drawn');
    await screenHolds(tutor.page, 'letters');
  });

  await step('what was put right can be saved as a file, for pupils whose families agreed', async () => {
    await tutor.menu('Devices');
    await tutor.page.getByText('Corrections for improving the program').click();
    expect(await tutor.button('Save the file').isDisabled(), 'a file can be saved though no family has agreed');
    await tutor.page.getByRole('checkbox', { name: 'Ada' }).check();
    await screenHolds(tutor.page, 'devices-export');
    const [file] = await Promise.all([tutor.page.waitForEvent('download'), tutor.button('Save the file').click()]);
    const { items } = JSON.parse(await readFile(await file.path(), 'utf8'));
    expect(items.length === 1, `${items.length} corrections are in the file, not the one that was made`);
    const [{ crop, ...said }] = items;
    expect(said.about === 'fault' && said.fault === 'apart' && said.there === true, JSON.stringify(said));
    // A picture in base64 may hold any three letters.
    expect(Buffer.from(crop, 'base64').subarray(1, 4).toString() === 'PNG', 'there is no picture of the letter');
    const texts = [file.suggestedFilename(), JSON.stringify(said)].join(' ');
    expect(!texts.includes('Ada'), `the file holds a name: ${texts}`);
  });

  await tutor.page.goto(deskAt);
  await takeBack(step, tutor);

  await step('marks, focus and sentence reach the parent', async () => {
    await tutor.exchange();
    await parent.menu('From the tutor');
    await parent.page.getByText(SAID.work).first().waitFor();
    await parent.page.locator('[data-mark=box]').first().waitFor();
    const shapes = await parent.page.locator('[data-mark]').evaluateAll((all) => all.map((one) => one.dataset.mark));
    expect(shapes.sort().join(' ') === 'box note pen', `the marks are: ${shapes.join(' ')}`);
    await screenHolds(parent.page, 'replies');
  });

  await answering(step, parent, SAID.work);

  await step('the sentence stands with the task', async () => {
    await parent.menu('This week');
    await parent.page.getByText(TRY).waitFor();
  });

  await step('both screens draw the same progress', async () => {
    await parent.menu('Progress');
    const theirs = await parent.charts();
    await screenHolds(parent.page, 'progress');
    await tutor.menu('Today');
    await tutor.link('Ada').click();
    await tutor.heading('Ada').waitFor();
    const ours = await tutor.charts();
    await screenHolds(tutor.page, 'pupil');
    expect(JSON.stringify(ours) === JSON.stringify(theirs), `${JSON.stringify(ours)}\nis not\n${JSON.stringify(theirs)}`);
    const most = Math.max(...Object.values(ours).map(({ rows }) => rows.length));
    expect(most >= 2, 'no chart has both pages');
  });

  await tutoring(step, tutor, parent, 'Ada');
  await tutor.link('Ada').click();
  await exported(step, tutor);
  await settings(step, tutor, parent, parentFolder.path);
  await byFile(step, tutor, parent);
  const other = new Person(await openPage(browser, otherProgram.address, tutorScreen));
  await secondLaptop(step, tutor, other);
  // These look at every size by themselves.
  if (!tablets) await everyScreen(step, browser, [['tutor', tutorProgram.address], ['family', parentProgram.address]]);

  await step('every text goes through the catalogue', async () => {
    const data = ['Ada', 'Jo', 'Ms Wren', 'British English', 'https://relay.example', SAID.work, SAID.praise, TRY, ANSWER, NOTE, READY, ...firstPage.text, ...secondPage.text];
    for (const { page } of [tutor, parent]) {
      await page.evaluate(() => localStorage.setItem('language', 'pseudo'));
      await page.reload();
      for (const { name, hash } of await allScreens(page)) {
        await goTo(page, hash);
        const texts = await foreignTexts(page, data);
        expect(texts.length === 0, `at ${name}: ${JSON.stringify(texts)}`);
      }
      await picture(page, `pseudo-${page.viewportSize().width}`);
      await page.evaluate(() => localStorage.removeItem('language'));
      await page.reload();
    }
  });

  await lettingGo(step, tutor, parent);

  await step('a program that is gone is told, and nothing else breaks', async () => {
    await parentProgram.stop();
    await parent.page.getByText('The program does not answer at the moment.').waitFor();
  });

  await step('no request left the machine, and no page had an error', async () => {
    const foreign = [...hosts].filter((host) => !/^(127\.0\.0\.1:\d+|data:)$/.test(host));
    expect(foreign.length === 0, `asked: ${foreign.join(' ')}`);
    expect(tutor.page.errors.length === 0, tutor.page.errors.join('\n'));
  });
}

const folders = await Promise.all(Array.from({ length: 5 }, temporaryFolder));
const browser = await chromium.launch({
  executablePath: process.env.POTHOOK_CHROMIUM || '/usr/bin/chromium',
  args: ['--no-sandbox', '--disable-gpu', '--disable-dev-shm-usage'],
});
try {
  await tell((step) => story(step, browser, folders));
} finally {
  await browser.close();
  await Promise.all(folders.map((folder) => folder.remove()));
}
