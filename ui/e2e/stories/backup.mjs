// A backup of the tutor's laptop is brought onto a new one, at its screen.
import { join } from 'node:path';
import { screenHolds } from '../lib/checks.mjs';
import { expect } from '../lib/steps.mjs';

const PASSPHRASE = 'four unusual garden words';

/** `tutor` has a pupil, Ada; `spare` is a `Person` whose device is new. The backup is saved under `folder`. */
export async function broughtBack(step, tutor, spare, folder) {
  const path = join(folder, 'practice.backup');

  await step('a tutor saves a backup', async () => {
    await tutor.menu('Settings');
    await tutor.page.getByLabel('Where to save it').fill(path);
    await tutor.page.getByLabel('Passphrase', { exact: true }).fill(PASSPHRASE);
    await tutor.page.getByLabel('The same passphrase again').fill(PASSPHRASE);
    await tutor.button('Save the backup').click();
    await tutor.page.getByText(/^Saved and read back: \d+ changes, /).waitFor({ timeout: 60_000 });
  });

  await step('a new laptop takes no backup in by another passphrase, and what was typed stays', async () => {
    const { page } = spare;
    await spare.button('Skip to setting up').click();
    await page.getByText('I have a backup of a device').click();
    await page.getByLabel('Where the backup is').fill(path);
    expect(await spare.button('Bring it back').isDisabled(), 'it is sent without a passphrase');
    await page.getByLabel('The backup’s passphrase').fill('four usual garden words');
    await spare.button('Bring it back').click();
    await page.locator('[data-bring-back]').getByRole('alert').waitFor({ timeout: 60_000 });
    expect((await page.getByLabel('Where the backup is').inputValue()) === path, 'the path is gone');
    await screenHolds(page, 'bring-back');
  });

  await step('by its own passphrase it comes whole, and says what is next', async () => {
    const { page } = spare;
    await page.getByLabel('The backup’s passphrase').fill(PASSPHRASE);
    await spare.button('Bring it back').click();
    await spare.heading('Your backup is here, Ms Wren').waitFor({ timeout: 60_000 });
    await screenHolds(page, 'brought-back');
    await spare.link('Later').click();
    await spare.link('Ada').waitFor();
    await page.reload();
    await spare.link('Ada').waitFor();
  });
}
