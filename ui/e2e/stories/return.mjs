// A tutor's laptop is stolen, and whoever has it removes the tutor's other one: the key on paper brings that back.
import { screenHolds } from '../lib/checks.mjs';
import { pairFamily } from '../lib/pairing.mjs';
import { expect } from '../lib/steps.mjs';

const wordsOf = ({ page }) => page.locator('[data-words]').getAttribute('data-words', { timeout: 30_000 });
const fold = ({ page }) => page.locator('[data-return]');

async function switchOn(person) {
  await person.menu('Devices');
  await person.page.getByRole('switch', { name: 'Let paired devices on this network reach this one' }).check();
}

/** A second laptop takes up a code of the first one's. */
async function own(tutor, laptop) {
  await tutor.menu('Devices');
  await tutor.heading('Pair a device').click();
  await tutor.page.getByRole('radio', { name: 'Another device of mine' }).check();
  await tutor.button('Show a pairing code').click();
  const code = await tutor.page.getByLabel('The code as text').inputValue();
  await laptop.menu('Devices');
  await laptop.page.getByLabel('The pairing code of the other device').fill(code);
  await laptop.button('Connect').click();
  const [ours, theirs] = await Promise.all([wordsOf(tutor), wordsOf(laptop)]);
  expect(ours.length > 0 && ours === theirs, `${ours} and ${theirs}`);
  for (const one of [tutor, laptop]) await one.button('Yes, the same').click();
  for (const one of [tutor, laptop]) await one.button('Done').click();
}

/** Removes a device, at the screen of another. */
async function removes(person, name) {
  await person.menu('Devices');
  const card = person.page.locator(`[data-device="${name}"]`);
  await card.locator('summary').click();
  await card.getByRole('button', { name: 'Remove this device' }).click();
  await person.page.getByRole('dialog').getByRole('button', { name: 'Remove this device' }).click();
  await card.waitFor({ state: 'detached' });
}

/** Exchanges until what was said of a device is as wanted: meetings that the programs begin themselves may be in the way. */
async function exchangedUntil(person, name, wanted) {
  let said = '';
  for (let tries = 0; tries < 8; tries += 1) {
    await person.menu('Devices');
    await person.button('Exchange now').click();
    await person.page.getByRole('button', { name: 'Exchange now', disabled: false }).waitFor();
    await person.page.locator('[data-meetings] p').first().waitFor({ timeout: 30_000 });
    const lines = await person.page.locator('[data-meetings] p').allInnerTexts();
    said = lines.find((line) => line.startsWith(`${name}:`)) ?? '';
    if (wanted.test(said)) return said;
    await person.page.waitForTimeout(1000);
  }
  throw new Error(`of ${name} it says “${said}”`);
}

/** `tutor`, `stolen` and `parent` are `Person`s whose devices are new. */
export async function returning(step, tutor, stolen, parent) {
  const { page } = tutor;
  let key = '';

  await step('a tutor with two laptops, a key on paper and a family', async () => {
    await tutor.settle('I am the tutor', 'Ms Wren');
    await stolen.settle('I am the tutor', 'Ms Wren’s other laptop');
    await parent.settle('I am a parent', 'Jo');
    await tutor.menu('Today');
    await tutor.link('Add a pupil').click();
    await page.getByLabel('First name or initials').fill('Ada');
    await page.getByRole('radio', { name: 'Unjoined' }).check();
    await tutor.button('Add').click();
    await tutor.heading('Ada').waitFor();
    await tutor.menu('Settings');
    await tutor.button('Make the key').click();
    key = (await page.locator('[data-paper-sheet] .key').innerText()).trim();
    await tutor.button('I have it on paper').click();
    await tutor.menu('Today');
    await tutor.link('Ada').click();
  });

  await pairFamily(step, tutor, parent);

  await step('both laptops and the family meet', async () => {
    await own(tutor, stolen);
    for (const one of [tutor, stolen, parent]) await switchOn(one);
    await exchangedUntil(tutor, 'Jo', /received|everything/);
    await exchangedUntil(tutor, 'Ms Wren’s other laptop', /received|everything/);
    await exchangedUntil(stolen, 'Jo', /received|everything/);
  });

  await step('the thief removes the tutor’s laptop, and the family’s device lets it in no more', async () => {
    await removes(stolen, 'Ms Wren');
    await exchangedUntil(stolen, 'Jo', /received|everything/);
    expect((await fold(tutor).getAttribute('open')) === null, 'it is said to be removed though nobody has told it so');
    await exchangedUntil(tutor, 'Jo', /no longer paired/);
    await page.getByText(/lets this device in no longer\. If you did not want that/).waitFor();
    expect((await fold(tutor).getAttribute('open')) !== null, 'the way back is not shown');
    await screenHolds(page, 'devices-turned-away');
  });

  await step('another key does not bring it back, and stays to be put right', async () => {
    const field = fold(tutor).getByLabel('The key on paper');
    // A key is the same in small letters.
    const wrong = key.replace(/\S/, (sign) => (/a/i.test(sign) ? 'B' : 'A'));
    await field.fill(wrong);
    await tutor.button('Come back').click();
    await fold(tutor).getByRole('alert').waitFor();
    expect((await field.inputValue()) === wrong, 'what was typed is gone');
    await screenHolds(page, 'devices-return-refused');
    page.errors = page.errors?.filter((error) => !error.includes('422'));
  });

  await step('by the key on paper it is let in again', async () => {
    await fold(tutor).getByLabel('The key on paper').fill(key);
    await tutor.button('Come back').click();
    await page.locator('[data-back=true]').waitFor({ timeout: 60_000 });
    await fold(tutor).getByText(/^Jo: /).waitFor();
    expect((await fold(tutor).getByLabel('The key on paper').inputValue()) === '', 'the key still stands there');
    await screenHolds(page, 'devices-returned');
    await exchangedUntil(tutor, 'Jo', /received|everything/);
  });

  await step('now it is the tutor who removes the thief, whom the family’s device lets in no more', async () => {
    await removes(tutor, 'Ms Wren’s other laptop');
    await exchangedUntil(tutor, 'Jo', /received|everything/);
    await exchangedUntil(stolen, 'Jo', /no longer paired/);
  });
}
