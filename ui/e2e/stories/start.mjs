// From the first start of a device to how it looks: what anybody meets before the first pupil is there.
import { focusStaysInSight, largeTextHolds, resize, screenHolds } from '../lib/checks.mjs';
import { expect } from '../lib/steps.mjs';

/** What a screen reader would read out: whatever a live place newly gets. */
function listen(page) {
  return page.evaluate(() => {
    window.heard = [];
    const note = ({ target }) => {
      const place = target.nodeType === Node.TEXT_NODE ? target.parentElement : target;
      const text = place?.closest('[aria-live]')?.textContent.trim();
      if (text) window.heard.push(text);
    };
    new MutationObserver((changes) => changes.forEach(note)).observe(document.body, {
      subtree: true,
      childList: true,
      characterData: true,
    });
  });
}

/** What a person wants who has not chosen anything yet, at `page`. */
async function throughTheStart(page) {
  const place = (text) => page.getByText(text, { exact: true }).waitFor();
  const press = (name) => page.getByRole('button', { name, exact: true }).click();
  const focus = () => page.evaluate(() => document.activeElement?.textContent);
  await place('1 of 3');
  await screenHolds(page, 'start');
  await largeTextHolds(page, 'start');
  await press('Next');
  await place('2 of 3');
  expect((await focus()) === 'Where the pages live, and who sees them', `the focus is at “${await focus()}”`);
  await screenHolds(page, 'start-where');
  await largeTextHolds(page, 'start-where');
  await press('Next');
  await place('3 of 3');
  expect(await page.getByRole('button', { name: 'Begin' }).isDisabled(), 'it begins though nothing was chosen');
  await page.getByLabel('Your name').fill('Jo');
  await press('Back');
  await press('Back');
  await page.getByRole('heading', { name: 'Welcome to Pothook' }).waitFor();
  await press('Skip to setting up');
  await place('3 of 3');
  expect((await page.getByLabel('Your name').inputValue()) === 'Jo', 'the name is lost on going back');
  await screenHolds(page, 'start-whose');
  await largeTextHolds(page, 'start-whose');
}

/**
 * Two `Person`s whose devices are not settled yet. Afterwards the tutor, “Ms Wren”, is at Today, and the parent, “Jo”, at
 * this week.
 */
export async function starting(step, tutor, parent) {
  const { page } = parent;

  await step('the start is gone through, back, and skipped', () => throughTheStart(page));

  await step('so it is on a laptop', async () => {
    const size = page.viewportSize();
    await resize(page, tutor.page.viewportSize());
    await parent.button('Back').click();
    await parent.button('Back').click();
    await throughTheStart(page);
    await resize(page, size);
  });

  await step('each device is settled, and told its one next step', async () => {
    await page.getByRole('radio', { name: 'I am a parent' }).check();
    await parent.button('Begin').click();
    await parent.heading('All set, Jo').waitFor();
    await screenHolds(page, 'start-parent');
    await parent.link('Pair with the tutor').click();
    await parent.heading('Devices').waitFor();
    await page.getByLabel('The tutor’s pairing code').waitFor();
    await page.locator('[data-off]').getByText('The network is switched off here').waitFor();
    await parent.menu('This week');
    await tutor.settle('I am the tutor', 'Ms Wren');
    await tutor.heading('Today').waitFor();
    await screenHolds(tutor.page, 'today-empty');
    await screenHolds(page, 'week-unpaired');
    await page.reload();
    await parent.heading('This week').waitFor();
  });

  await step('a code is read from a picture, where the browser can', async () => {
    const other = await page.context().newPage();
    // Few browsers have a reader; this one tells how wide the picture is that it was given.
    await other.addInitScript(() => {
      window.BarcodeDetector = class {
        static getSupportedFormats = async () => ['qr_code'];
        detect = async ({ width }) => (width > 1 ? [{ rawValue: `CODE OF ${width}` }] : []);
      };
    });
    await other.goto(new URL('/#/devices', page.url()).href);
    const choose = async (width) => {
      const drawn = await other.evaluate((side) => {
        const canvas = Object.assign(document.createElement('canvas'), { width: side, height: side });
        return canvas.toDataURL('image/png').split(',')[1];
      }, width);
      const file = { name: 'code.png', mimeType: 'image/png', buffer: Buffer.from(drawn, 'base64') };
      await other.locator('input[name=code]').setInputFiles(file);
    };
    const field = other.getByLabel('The tutor’s pairing code');
    await other.locator('input[name=code]').waitFor({ state: 'attached' });
    await choose(1);
    await other.getByText(/^There is no such code in this picture\./).waitFor();
    expect((await field.inputValue()) === '', 'something was read where nothing is');
    await choose(40);
    await other.getByText('The code is read.').waitFor();
    expect((await field.inputValue()) === 'CODE OF 40', `it reads ${await field.inputValue()}`);
    await screenHolds(other, 'pairing-picture');
    await other.close();
  });
}

/** How the screens look, on the device of a settled `Person`. Afterwards they look as before. */
export async function looks(step, person) {
  const { page } = person;
  const letters = () => page.evaluate(() => parseFloat(getComputedStyle(document.documentElement).fontSize));
  const ground = () => page.evaluate(() => getComputedStyle(document.documentElement).backgroundColor);

  await step('letters grow to twice their size, and stay so', async () => {
    await person.menu('Settings');
    const usual = await letters();
    await page.getByRole('radio', { name: '200 %' }).check();
    expect((await letters()) === 2 * usual, `letters are ${await letters()} px, not twice ${usual}`);
    await page.reload();
    await person.heading('Settings').waitFor();
    expect((await letters()) === 2 * usual, 'after opening the page anew letters are as small as before');
    await page.getByRole('radio', { name: '100 %' }).check();
    for (const at of ['settings', 'devices']) {
      await page.goto(new URL(`/#/${at}`, page.url()).href);
      await page.locator('main h1').waitFor();
      await largeTextHolds(page, at);
      await focusStaysInSight(page, at);
    }
  });

  await step('colours are as somebody likes them, whatever the system has', async () => {
    await person.menu('Settings');
    const light = await ground();
    await page.getByRole('radio', { name: 'Dark' }).check();
    const dark = await ground();
    expect(light !== dark, `both are ${light}`);
    await page.emulateMedia({ colorScheme: 'dark', reducedMotion: 'reduce' });
    await page.getByRole('radio', { name: 'Light', exact: true }).check();
    expect((await ground()) === light, 'it is dark though light was chosen');
    await page.getByRole('radio', { name: 'As the system has it' }).check();
    expect((await ground()) === dark, 'it is not as the system has it');
    await page.emulateMedia({ colorScheme: 'light', reducedMotion: 'reduce' });
    expect((await ground()) === light, 'it does not follow the system');
  });

  await step('the language for tests is there only where it was asked for', async () => {
    await page.getByText('Language: British English').waitFor();
    await page.goto(new URL('/?pseudo#/settings', page.url()).href);
    const language = page.getByRole('combobox', { name: /^⟦Láñgüágé/ });
    await language.waitFor();
    expect((await page.evaluate(() => document.documentElement.lang)) === 'en-GB', 'the page says it is in no language');
    await language.selectOption('British English');
    await page.getByText('Language: British English').waitFor();
    await page.reload();
    await page.getByText('Language: British English').waitFor();
  });

  await step('the network switch stands in the settings too, and is the same one', async () => {
    const on = page.getByRole('switch', { name: 'Let paired devices on this network reach this one' });
    expect(!(await on.isChecked()), 'it is on though nobody switched it on');
    await on.check();
    await person.menu('Devices');
    await on.waitFor();
    expect(await on.isChecked(), 'it is another one');
    expect((await page.locator('[data-off]').count()) === 0, 'it is said to be off though it is on');
    await on.uncheck();
    await page.locator('[data-off]').waitFor();
    await person.button('Switch the network on').click();
    await page.waitForFunction(() => document.querySelector('[role=switch]').checked);
    await on.uncheck();
    await page.locator('[data-off]').waitFor();
  });

  await step('what is said twice is heard twice', async () => {
    await person.menu('Settings');
    await listen(page);
    const name = page.getByLabel('Name of this device');
    const before = await name.inputValue();
    for (const other of [`${before} 2`, before]) {
      await name.fill(other);
      await person.button('Save the name').click();
      await page.getByRole('button', { name: 'Save the name', disabled: true }).waitFor();
    }
    await page.waitForFunction(() => window.heard.length >= 2);
    const heard = await page.evaluate(() => window.heard);
    expect(JSON.stringify(heard) === JSON.stringify(['Saved.', 'Saved.']), `heard: ${JSON.stringify(heard)}`);
  });
}
