// The tutor at the desk: what a hand and keys do with a page, what its places say, undoing, and two pages side by side.
import { screenHolds } from '../lib/checks.mjs';
import { open, viewOf } from '../lib/desk.mjs';
import { expect } from '../lib/steps.mjs';

/** Where the page lies on screen, once it rests. */
async function sheetAt(page) {
  await page.waitForTimeout(300);
  return page.locator('[data-sheet]').first().boundingBox();
}

const marks = (page, n) =>
  page.waitForFunction((wanted) => document.querySelectorAll('[data-mark]').length === wanted, n);

/** Two fingers that move apart about the middle of the page. */
async function pinch(page, box) {
  const session = await page.context().newCDPSession(page);
  const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
  const touch = (type, far) =>
    session.send('Input.dispatchTouchEvent', {
      type,
      touchPoints: type === 'touchEnd' ? [] : [{ x: x - far, y, id: 1 }, { x: x + far, y, id: 2 }],
    });
  await touch('touchStart', 40);
  for (const far of [50, 60, 80]) await touch('touchMove', far);
  await touch('touchEnd');
  await session.detach();
}

/**
 * `tutor` is a `Person` at the desk, at a laptop, with a page of a pupil who has another one of the same kind; no mark is
 * on it and nothing was put right. Afterwards it is as it was before.
 */
export async function atTheDesk(step, tutor) {
  const { page } = tutor;
  const stage = page.locator('[data-stage]').first();
  const says = page.locator('[data-told] p');

  await step('the page fills its frame, and no panel pushes it out of sight', async () => {
    await stage.waitFor();
    for (const panel of ['marks', 'right', 'details', 'read']) {
      await open(page, panel);
      const box = await stage.boundingBox();
      const { height } = page.viewportSize();
      expect(box.y >= 0 && box.y + box.height <= height, `with “${panel}” the page ends at ${box.y + box.height} of ${height}`);
      const over = await page.evaluate(() => document.documentElement.scrollHeight - window.innerHeight);
      expect(over <= 1, `with “${panel}” the screen is ${over} px too high`);
    }
  });

  await step('wheel, mouse and fingers move the page and change its size', async () => {
    await stage.focus();
    await page.keyboard.press('0');
    const box = await stage.boundingBox();
    const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
    const whole = await sheetAt(page);
    await page.mouse.move(x, y);
    await page.keyboard.down('Control');
    await page.mouse.wheel(0, -400);
    await page.keyboard.up('Control');
    const large = await sheetAt(page);
    expect(large.width > 2 * whole.width, `with Ctrl the wheel made ${whole.width} px to ${large.width}`);
    await page.mouse.wheel(0, 100);
    const wheeled = await sheetAt(page);
    expect(Math.abs(large.y - wheeled.y - 100) < 2, `the wheel moved the page by ${large.y - wheeled.y} px, not by 100`);
    await page.mouse.down();
    await page.mouse.move(x + 60, y + 40, { steps: 4 });
    await page.mouse.up();
    const dragged = await sheetAt(page);
    expect(Math.abs(dragged.x - wheeled.x - 60) < 2 && Math.abs(dragged.y - wheeled.y - 40) < 2, 'the mouse drags the page elsewhere');
    await pinch(page, box);
    const pinched = await sheetAt(page);
    expect(pinched.width > 1.8 * dragged.width, `two fingers made ${dragged.width} px to ${pinched.width}`);
    await tutor.button('Whole page').click();
    expect(Math.abs((await sheetAt(page)).width - whole.width) < 2, 'it does not become whole again');
  });

  await step('with a tool in the hand the space bar still moves the page', async () => {
    await page.keyboard.press('+');
    await page.keyboard.press('+');
    await page.keyboard.press('+');
    await page.keyboard.press('p');
    const before = await sheetAt(page);
    const box = await stage.boundingBox();
    await stage.focus();
    await page.keyboard.down('Space');
    await page.mouse.move(box.x + 200, box.y + 300);
    await page.mouse.down();
    await page.mouse.move(box.x + 200, box.y + 220, { steps: 4 });
    await page.mouse.up();
    await page.keyboard.up('Space');
    const after = await sheetAt(page);
    expect(after.y < before.y - 40, 'the page stays where it is');
    expect((await page.locator('[data-draft] polyline').getAttribute('points')).split(' ').length === 2, 'something was drawn');
    await page.keyboard.press('Escape');
    await page.locator('[data-draft]').waitFor({ state: 'detached' });
    await page.keyboard.press('0');
  });

  await step('a place that is tapped says its figure, and a list says them all', async () => {
    await open(page, 'read');
    if ((await page.locator('[data-aspect=gaps]').getAttribute('aria-pressed')) === 'false') await page.keyboard.press('6');
    // At this size nobody could read the numbers, and that is said.
    await page.getByText('Make the page larger, and its numbers show.').waitFor();
    for (let n = 0; n < 3; n += 1) await page.keyboard.press('+');
    await page.locator('[data-labels] span').first().waitFor();
    const places = page.locator('[data-places]');
    await places.locator('summary').click();
    await places.locator('select').selectOption({ index: 1 });
    const second = places.locator('li button').nth(1);
    const text = (await second.innerText()).trim();
    expect(/o-widths$/.test(text), `the place says “${text}”`);
    await second.click();
    await says.getByText(text, { exact: true }).waitFor();
    await page.waitForFunction((sentence) => [...document.querySelectorAll('[aria-live]')].some((one) => one.textContent === sentence), text);
    const picked = await page.locator('[data-picked] rect').boundingBox();
    await tutor.button('Clear').click();
    await page.locator('[data-picked]').waitFor({ state: 'detached' });
    await page.mouse.click(picked.x + picked.width / 2, picked.y + picked.height / 2);
    await says.getByText(text, { exact: true }).waitFor();
    await page.keyboard.press('n');
    await page.waitForFunction((sentence) => document.querySelector('[data-told] p').textContent !== sentence, text);
    await places.locator('summary').click();
  });

  await step('a figure that is looked at lights its places, and lets go of them', async () => {
    const lit = page.locator('[data-sheet] [data-lit] path');
    await page.locator('button.figure').last().hover();
    await lit.waitFor({ state: 'attached' });
    await page.mouse.move(2, 2);
    await lit.waitFor({ state: 'detached' });
    await page.locator('button.figure').first().focus();
    await lit.waitFor({ state: 'attached' });
    await screenHolds(page, 'desk-read');
    await page.keyboard.press('6');
  });

  await step('praise takes no more acts than what to work on: draw, sentence, put', async () => {
    for (const [tone, n] of [['well done', 1], ['to work on', 2]]) {
      await page.keyboard.press('7');
      await page.keyboard.press('b');
      const group = page.getByRole('group', { name: new RegExp(tone, 'i') });
      await group.locator('li button').first().click();
      expect((await page.getByLabel('Your sentence').inputValue()).length > 10, 'the sentence was not taken');
      // It is about what the page shows.
      expect((await page.getByLabel('About').inputValue()) === 'slant', 'the mark is about something else');
      await group.getByRole('button', { name: /^Put as/ }).click();
      await marks(page, n);
      await page.keyboard.press('7');
    }
    await page.keyboard.press('b');
    expect((await page.getByLabel('About').locator('option:checked').innerText()) === 'The page as a whole', 'the last mark’s aspect sticks');
    await tutor.button('Cancel').click();
  });

  await step('the number of a mark covers no writing', async () => {
    const { reading } = await viewOf(page);
    const covered = await page.evaluate(({ frame, words }) => {
      const sheet = document.querySelector('[data-sheet]').getBoundingClientRect();
      const scale = sheet.width / frame.width;
      const ink = words.map(({ bounds: { x0, y0, x1, y1 } }) => ({
        left: sheet.left + x0 * scale, right: sheet.left + x1 * scale, top: sheet.top + y0 * scale, bottom: sheet.top + y1 * scale,
      }));
      const boxes = (selector) => [...document.querySelectorAll(selector)].map((one) => one.getBoundingClientRect());
      const shared = (a, b) => a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;
      const numbers = boxes('[data-numbers] span');
      const over = [...ink, ...boxes('[data-mark] rect')];
      return { n: numbers.length, words: ink.length, over: numbers.filter((one) => over.some((other) => shared(one, other))).length };
    }, reading);
    expect(covered.n === 2 && covered.words > 20, JSON.stringify(covered));
    expect(covered.over === 0, `${covered.over} numbers lie on a word or a mark`);
  });

  await step('marks are changed, taken off, undone and done again', async () => {
    await page.getByRole('button', { name: 'Change mark 2', exact: true }).click();
    await page.getByLabel('Your sentence').fill('Other words.');
    await tutor.button('Put as “well done”').click();
    await page.getByText('Other words.').waitFor();
    await page.getByRole('button', { name: 'Take off mark 1', exact: true }).click();
    await marks(page, 1);
    await page.keyboard.press('Control+z');
    await marks(page, 2);
    await page.keyboard.press('Control+z');
    await page.getByText('Other words.').waitFor({ state: 'detached' });
    await page.keyboard.press('Control+Shift+z');
    await page.getByText('Other words.').waitFor();
    for (const left of [2, 1, 0]) {
      await page.getByRole('button', { name: /^Undo: mark/ }).click();
      await marks(page, left);
    }
    await page.getByRole('button', { name: 'Undo', exact: true }).waitFor();
  });

  await step('half-typed words of a mark are there again after leaving', async () => {
    await page.keyboard.press('t');
    await page.getByLabel('Your sentence').fill('Half a sen');
    await page.waitForTimeout(700);
    await page.reload();
    await stage.waitFor();
    await page.locator('[data-sheet] img').waitFor();
    await page.keyboard.press('t');
    await page.waitForFunction(() => document.querySelector('form textarea')?.value === 'Half a sen');
    await tutor.button('Cancel').click();
  });

  await step('keys are listed, and single ones can be switched off', async () => {
    await page.keyboard.press('?');
    const dialog = page.getByRole('dialog');
    await dialog.getByText('Looked at, next page').waitFor();
    await screenHolds(page, 'desk-keys');
    await dialog.getByRole('checkbox', { name: 'Single keys' }).uncheck();
    await dialog.getByRole('button', { name: 'Close' }).click();
    await page.keyboard.press('1');
    expect((await page.locator('[data-overlay] > *').count()) === 0, 'a key works though they are switched off');
    await tutor.button('Keys').click();
    await dialog.getByRole('checkbox', { name: 'Single keys' }).check();
    await dialog.getByRole('button', { name: 'Close' }).click();
    await page.keyboard.press('1');
    await page.locator('[data-sheet] [data-overlay] > *').first().waitFor({ state: 'attached' });
  });

  await step('the other page lies beside this one, moves with it and shows the same', async () => {
    const at = page.url();
    await page.keyboard.press('c');
    const sheets = page.locator('[data-sheet]');
    await sheets.nth(1).waitFor();
    await page.waitForFunction(() => [...document.querySelectorAll('[data-sheet] img')].filter((image) => image.complete).length === 2);
    await page.waitForTimeout(400);
    expect((await page.locator('[data-sheet] [data-overlay] > *').count()) >= 2, 'the aspect is not drawn on both');
    await screenHolds(page, 'compare');
    const widths = async () => (await sheets.all()).reduce(async (all, one) => [...(await all), (await one.boundingBox()).width], []);
    const before = await widths();
    await page.keyboard.press('+');
    await page.waitForTimeout(400);
    const after = await widths();
    expect(after.every((width, index) => Math.abs(width / before[index] - 1.25) < 0.02), `${before} became ${after}`);
    await page.keyboard.press('c');
    await stage.waitFor();
    expect(page.url() === at, 'the way back leads elsewhere');
    await page.locator('[data-sheet] [data-overlay] > *').first().waitFor({ state: 'attached' });
  });

  await step('aspect, size and panel stay when another page comes on the desk', async () => {
    const at = page.url();
    await page.keyboard.press('r');
    const { width } = await sheetAt(page);
    const [there, back] = (await page.getByRole('link', { name: 'Earlier', exact: true }).count()) > 0 ? [',', '.'] : ['.', ','];
    await page.keyboard.press(there);
    await page.waitForFunction((before) => location.href !== before, at);
    await page.locator('[data-sheet] [data-overlay] > *').first().waitFor({ state: 'attached' });
    expect((await page.locator('[data-aspect=baseline]').getAttribute('aria-pressed')) === 'true', 'the aspect is lost');
    expect(Math.abs((await sheetAt(page)).width / width - 1) < 0.02, 'the size is lost');
    await page.keyboard.press(back);
    await page.waitForFunction((before) => location.href === before, at);
    await stage.waitFor();
    await page.keyboard.press('1');
    await page.keyboard.press('0');
  });
}
