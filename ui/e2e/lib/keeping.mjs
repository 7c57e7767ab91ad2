import { readFile, stat } from 'node:fs/promises';
import { join } from 'node:path';
import { screenHolds } from './checks.mjs';
import { expect } from './steps.mjs';

const PASSPHRASE = 'four unusual garden words';

/** Settings of both: who opens the data, a backup, and the key on paper. */
export async function settings(step, tutor, parent, folder) {
  await step('the settings say who opens the data, and the name can be changed', async () => {
    await parent.menu('Settings');
    await parent.page.locator('[data-opened-by=keyFile]').waitFor();
    await parent.page.getByLabel('Name of this device').fill('Jo’s telephone');
    await parent.button('Save the name').click();
    await parent.page.waitForFunction(() =>
      [...document.querySelectorAll('input')].some((field) => field.value === 'Jo’s telephone'),
    );
    await parent.page.getByRole('button', { name: 'Save the name', disabled: true }).waitFor();
    await screenHolds(parent.page, 'settings-parent');
  });

  await step('a backup is saved once the passphrase was typed twice, and never over another file', async () => {
    const path = join(folder, 'kept.backup');
    const fill = async (again) => {
      await parent.page.getByLabel('Where to save it').fill(path);
      await parent.page.getByLabel('Passphrase', { exact: true }).fill(PASSPHRASE);
      await parent.page.getByLabel('The same passphrase again').fill(again);
    };
    await fill('four usual');
    await parent.page.getByText('The two are not the same.').waitFor();
    expect(await parent.button('Save the backup').isDisabled(), 'it is saved though the two differ');
    await screenHolds(parent.page, 'settings-backup');
    await fill(PASSPHRASE);
    await parent.button('Save the backup').click();
    await parent.page.getByText(/^Saved and read back: \d+ changes, /).waitFor({ timeout: 60_000 });
    expect((await stat(path)).size > 10_000, 'hardly anything is in the backup');
    await fill(PASSPHRASE);
    await parent.button('Save the backup').click();
    await parent.page.locator('[data-backup]').getByRole('alert').waitFor({ timeout: 60_000 });
  });

  await step('the key on paper is shown once, and is asked for before another is made', async () => {
    await tutor.menu('Settings');
    await screenHolds(tutor.page, 'settings');
    await tutor.button('Make the key').click();
    await tutor.heading('Your key on paper').waitFor();
    const key = await tutor.page.locator('.key').innerText();
    expect(key.replace(/[^a-z0-9]/gi, '').length > 50, `the key is short: ${key.length} characters`);
    await tutor.page.getByAltText('The key as a square picture').waitFor();
    await screenHolds(tutor.page, 'paper-key');
    await tutor.page.emulateMedia({ media: 'print' });
    expect(!(await tutor.page.getByRole('navigation').isVisible()), 'the menu is printed too');
    expect(!(await tutor.button('Print the key').isVisible()), 'the buttons are printed too');
    await tutor.page.emulateMedia({ media: 'screen' });
    await tutor.button('I have it on paper').click();
    await tutor.page.getByText('You have a key on paper.').waitFor();
    await tutor.page.getByLabel('The key that is on the paper').fill(key);
    await tutor.button('Replace the key').click();
    await tutor.heading('Your key on paper').waitFor();
    expect((await tutor.page.locator('.key').innerText()) !== key, 'the new key is the old one');
    await tutor.button('I have it on paper').click();
  });
}

/** What one device has not heard of goes to it as a file. */
export async function byFile(step, tutor, parent) {
  await step('a file made by the tutor is opened by the parent, and can be opened again', async () => {
    await tutor.menu('Devices');
    const made = tutor.page.locator('[data-carry]');
    await made.locator('summary').click();
    await tutor.button('Make the file').click();
    await made.getByText('The file is made.').waitFor({ timeout: 60_000 });
    await screenHolds(tutor.page, 'carry-made');
    const [file] = await Promise.all([
      tutor.page.waitForEvent('download'),
      made.getByRole('button', { name: /^Save the file / }).click(),
    ]);
    expect(/^\d{4}-\d\d-\d\d\.pothook-post$/.test(file.suggestedFilename()), file.suggestedFilename());
    await parent.menu('More');
    const opened = parent.page.locator('[data-carry]');
    await opened.locator('summary').click();
    const path = await file.path();
    for (const said of [/^About Ada: /, 'About Ada: nothing in it was new here.']) {
      await parent.page.locator('input[name=carry]').setInputFiles(path);
      await opened.locator('[data-carried]').getByText(said).waitFor({ timeout: 60_000 });
    }
    await screenHolds(parent.page, 'carry-opened');
  });

  await step('a file that is none is refused by its name, and the others are opened', async () => {
    const none = { name: 'holiday.txt', mimeType: 'text/plain', buffer: Buffer.from('we went to the sea') };
    await parent.page.locator('input[name=carry]').setInputFiles([none, { ...none, name: 'sea.txt' }]);
    const said = parent.page.locator('[data-carried] p');
    await said.nth(1).waitFor();
    const texts = await said.allInnerTexts();
    expect(texts[0].startsWith('holiday.txt: ') && texts[1].startsWith('sea.txt: '), texts.join('\n'));
  });
}

/** All of a pupil as one file. */
export async function exported(step, { page, link }) {
  await step('all of a pupil is saved as a file in open formats', async () => {
    await page.getByText('Keeping and letting go').click();
    const [file] = await Promise.all([
      page.waitForEvent('download'),
      page.getByRole('link', { name: 'Save the copy', exact: true }).click(),
    ]);
    const bytes = await readFile(await file.path());
    // The signature of a local file header (APPNOTE.TXT of the zip format, 4.3.7).
    expect(bytes.subarray(0, 4).toString('hex') === '504b0304', 'it is no zip file');
    expect(bytes.includes('pupil.json') && bytes.includes('figures.csv'), 'the tables are not in it');
  });
}

/** A page wished away, a page forgotten, a day set, a history shortened, a pupil erased. */
export async function lettingGo(step, tutor, parent) {
  const keeping = tutor.page.locator('[data-keeping]');
  const pages = (person) => person.page.locator('a[href^="#/desk/"] img, a[href^="#/result/"] img');

  await step('the parent takes one page out, and asks for another to be forgotten', async () => {
    await parent.menu('This week');
    await pages(parent).nth(1).waitFor();
    await pages(parent).last().click();
    await parent.page.getByText('This page', { exact: true }).click();
    await parent.button('Take this page out').click();
    await screenHolds(parent.page, 'take-out');
    await parent.page.getByRole('dialog').getByRole('button', { name: 'Cancel' }).click();
    await parent.confirm('Take this page out');
    await parent.heading('This week').waitFor();
    await parent.page.waitForFunction(() => document.querySelectorAll('a[href^="#/result/"] img').length === 1);
    await pages(parent).first().click();
    await parent.page.getByText('This page', { exact: true }).click();
    await parent.confirm('Ask for this page to be forgotten');
    await parent.page.getByText('You have asked the tutor for this page to be forgotten.').waitFor();
    await screenHolds(parent.page, 'asked');
    await parent.exchange();
  });

  await step('the tutor sees the wish and does it', async () => {
    await tutor.menu('Today');
    await tutor.link('The family wishes something to be forgotten').click();
    await tutor.heading('The family wishes something to be forgotten').waitFor();
    await screenHolds(tutor.page, 'wish');
    expect((await pages(tutor).count()) === 1, 'the page that was taken out is still shown');
    await tutor.confirm('Forget this page');
    await tutor.page.locator('[data-asks]').waitFor({ state: 'detached' });
    await tutor.page.getByText('No pages yet.').waitFor();
  });

  await step('a day to erase by is set, has come, and is cleared', async () => {
    await keeping.locator('summary').click();
    await tutor.page.getByLabel('Day by which to erase this pupil').fill('2026-01-31');
    await tutor.button('Set the day').click();
    await tutor.heading('The day to erase this pupil has come').waitFor();
    await screenHolds(tutor.page, 'keeping');
    await tutor.button('Go to keeping and letting go').click();
    const there = await tutor.page.evaluate(() => document.activeElement?.textContent);
    expect(there === 'Keeping and letting go', `the focus is at “${there}”`);
    await tutor.button('Clear the day').click();
    await tutor.page.locator('[data-due]').waitFor({ state: 'detached' });
  });

  await step('what is older than a day is forgotten, and the history shortened', async () => {
    expect(await tutor.button('Forget all before this day').isDisabled(), 'all can be forgotten before no day');
    await tutor.page.getByLabel('The first day that stays').fill('2025-09-01');
    await tutor.button('Forget all before this day').click();
    await tutor.page.getByRole('heading', { name: 'Forget everything before 1 September 2025?' }).waitFor();
    await screenHolds(tutor.page, 'forget-before');
    await tutor.page.getByRole('dialog').getByRole('button', { name: 'Cancel' }).click();
    await tutor.confirm('Forget all before this day');
    await tutor.confirm('Shorten the history');
    await keeping.getByText(/take [\d,]+ kB/).waitFor();
  });

  await step('the pupil is erased once the name was typed, and the parent hears of it', async () => {
    await parent.menu('Settings');
    await parent.confirm('Ask for everything to be forgotten');
    await parent.page.getByText('You have asked the tutor for everything to be forgotten.').waitFor();
    await parent.exchange();
    await tutor.page.getByText('Everything about Ada', { exact: true }).waitFor();
    await tutor.page.locator('[data-asks]').getByRole('button', { name: 'Erase this pupil' }).click();
    await screenHolds(tutor.page, 'erase');
    await tutor.page.keyboard.press('Escape');
    await tutor.page.locator('[data-asks]').getByRole('button', { name: /^Put this wish aside/ }).click();
    await tutor.page.locator('[data-asks]').waitFor({ state: 'detached' });
    await tutor.confirm('Erase this pupil', 'Ada');
    await tutor.page.getByText('No pupils yet.').waitFor();
    // Before its screen is left, what was shown of the pupil may be asked for once more.
    tutor.page.errors = tutor.page.errors.filter((error) => !error.includes('422'));
    await parent.exchange();
    await parent.menu('This week');
    await parent.page.getByText('The tutor has erased a pupil.').waitFor();
    await screenHolds(parent.page, 'notices');
    await parent.button('Put these messages away').click();
    await parent.page.locator('[data-notices]').waitFor({ state: 'detached' });
    await parent.page.getByText('This device is not paired with a tutor yet.').waitFor();
  });
}
