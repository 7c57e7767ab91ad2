import { screenHolds } from './checks.mjs';
import { expect } from './steps.mjs';

const wordsOf = (person) => person.page.locator('[data-words]').getAttribute('data-words', { timeout: 30_000 });

/** Both people compare the words on their screens, and say that they are the same. */
async function confirmed(one, other) {
  const [ours, theirs] = await Promise.all([wordsOf(one), wordsOf(other)]);
  expect(ours.length > 0 && ours === theirs, `${ours} and ${theirs}`);
  await screenHolds(other.page, 'pairing-compare');
  await one.button('Yes, the same').click();
  await other.button('Yes, the same').click();
}

async function finished(one, name, other, otherName) {
  await one.page.getByText(`Paired with ${otherName}.`).waitFor();
  await other.page.getByText(`Paired with ${name}.`).waitFor();
  await one.button('Done').click();
  await other.button('Done').click();
}

/** A code that was sent over and copied is in the field after one tap. */
async function pasted({ page }, label, code) {
  await page.context().grantPermissions(['clipboard-read', 'clipboard-write']);
  await page.bringToFront();
  await page.evaluate((text) => navigator.clipboard.writeText(` ${text}\n`), code);
  await page.getByRole('button', { name: 'Paste the code', exact: true }).click();
  await page.getByText('The code is pasted.').waitFor();
  expect((await page.getByLabel(label).inputValue()) === code, 'what was copied is not in the field');
}

/** A family's device is paired with the tutor's. */
export async function pairFamily(step, tutor, parent) {
  await step('the tutor shows a code for a family’s device', async () => {
    await tutor.link('Pair with the family’s device').click();
    expect(await tutor.page.getByRole('radio', { name: 'A family’s device' }).isChecked(), 'a family is not meant');
    await tutor.button('Show a pairing code').click();
    await tutor.page.getByAltText('The pairing code as a square picture').waitFor();
    await screenHolds(tutor.page, 'pairing-offer');
  });

  await step('the parent takes it up, both devices show the same words, and are paired', async () => {
    const code = await tutor.page.getByLabel('The code as text').inputValue();
    await parent.menu('Devices');
    await pasted(parent, 'The tutor’s pairing code', code);
    await screenHolds(parent.page, 'pairing-join');
    await parent.button('Connect').click();
    await confirmed(tutor, parent);
    await finished(tutor, 'Ms Wren', parent, 'Jo');
    await tutor.page.locator('[data-device=Jo] summary').click();
    await tutor.page.locator('[data-device=Jo]').getByText('Shares Ada; there are no pages yet.').waitFor();
    await screenHolds(tutor.page, 'devices');
    await parent.page.getByText('The tutor has lost every device').click();
    await parent.button('Show a code for the tutor').waitFor();
    await screenHolds(parent.page, 'devices-parent');
  });
}

/** The tutor's second laptop gets every pupil, and is removed again. */
export async function secondLaptop(step, tutor, laptop) {
  await step('a second device of the tutor’s takes up a code, and has every pupil', async () => {
    await laptop.settle('I am the tutor', 'Ms Wren’s other laptop');
    await laptop.heading('Today').waitFor();
    await laptop.menu('Devices');
    expect(await laptop.page.getByRole('radio', { name: 'Take up a code here' }).isChecked(), 'a new device is to take one up');
    await screenHolds(laptop.page, 'pairing-take-up');
    await tutor.menu('Devices');
    await tutor.heading('Pair a device').click();
    await tutor.page.getByRole('radio', { name: 'Another device of mine' }).check();
    await screenHolds(tutor.page, 'pairing-own');
    await tutor.button('Show a pairing code').click();
    const code = await tutor.page.getByLabel('The code as text').inputValue();
    await laptop.page.getByLabel('The pairing code of the other device').fill(code);
    await laptop.button('Connect').click();
    await confirmed(tutor, laptop);
    await finished(tutor, 'Ms Wren', laptop, 'Ms Wren’s other laptop');
    await laptop.menu('Today');
    await laptop.link('Ada').waitFor({ timeout: 30_000 });
  });

  await step('an address is given by hand, and what is none is refused', async () => {
    await laptop.menu('Devices');
    await laptop.page.getByText('If they do not find each other').click();
    const form = laptop.page.locator('[data-address]');
    const field = form.getByLabel('Address of Ms Wren');
    await field.fill('over there');
    await form.getByRole('button', { name: 'Save the address' }).click();
    await form.getByRole('alert').waitFor();
    expect((await field.inputValue()) === 'over there', 'what was typed is gone though it was refused');
    // Left half-typed, it is still there afterwards.
    await field.fill('127.0.0.1:9');
    await laptop.menu('Today');
    await laptop.menu('Devices');
    await laptop.page.getByText('If they do not find each other').click();
    await form.getByText('These are the words that you had begun with before.').waitFor();
    expect((await field.inputValue()) === '127.0.0.1:9', 'what was typed is lost');
    const save = form.getByRole('button', { name: 'Save the address' });
    const card = laptop.page.locator('[data-device="Ms Wren"]');
    await save.click();
    await card.locator('summary').click();
    const given = card.getByText(/^Last reached at 127\.0\.0\.1:9\b/);
    // Where the two have just met, the address that was true has taken its place: then it is given once more.
    const seen = () => given.waitFor({ timeout: 3000 }).then(() => true, () => false);
    if (!(await seen())) {
      await field.fill('127.0.0.1:9');
      await save.click();
      await given.waitFor();
    }
    await screenHolds(laptop.page, 'devices-address');
  });

  await step('the second device is removed, and stands folded away', async () => {
    const card = tutor.page.locator('[data-device="Ms Wren’s other laptop"]');
    await card.locator('summary').click();
    await card.getByText(/^Has (all|the one|\d+ of) .* of Ada\.$/).waitFor();
    await card.getByRole('button', { name: 'Remove this device' }).click();
    const dialog = tutor.page.getByRole('dialog');
    await dialog.getByText('What it already has, it keeps: that cannot be taken back.').waitFor();
    await screenHolds(tutor.page, 'devices-remove');
    await tutor.page.keyboard.press('Escape');
    await dialog.waitFor({ state: 'hidden' });
    const back = await card.getByRole('button', { name: 'Remove this device' }).evaluate((one) => one === document.activeElement);
    expect(back, 'after leaving it the focus is not where it came from');
    await card.getByRole('button', { name: 'Remove this device' }).press('Enter');
    await dialog.getByRole('button', { name: 'Remove this device' }).click();
    await card.waitFor({ state: 'detached' });
    await tutor.page.getByText('Removed: 1 device').click();
    await screenHolds(tutor.page, 'devices-removed');
  });
}

/** Where a device can be reached is said while the network is on, and a relay can be named. */
export async function network(step, tutor) {
  const { page } = tutor;
  await step('the network is switched on, a relay named, and both taken back', async () => {
    await tutor.menu('Devices');
    await page.getByText('If they do not find each other').click();
    expect(await page.getByLabel('Address of the relay').isDisabled(), 'a relay can be named while the network is off');
    const on = page.getByRole('switch', { name: 'Let paired devices on this network reach this one' });
    await on.check();
    await page.locator('[data-relay]').getByLabel('Address of the relay').fill('https://relay.example');
    await page.getByRole('button', { name: 'Save the relay' }).click();
    await page.getByText('The relay is https://relay.example', { exact: true }).waitFor();
    await page.locator('[data-addresses]').waitFor();
    await screenHolds(page, 'devices-network');
    await page.getByLabel('Address of the relay').fill('');
    await page.getByRole('button', { name: 'Save the relay' }).click();
    await page.getByText('No relay is named.').waitFor();
    await on.uncheck();
    await page.locator('[data-addresses]').waitFor({ state: 'detached' });
  });
}
