import { screenHolds } from './checks.mjs';
import { expect } from './steps.mjs';

/** A point of the page on screen, as shares of its width and height. */
export async function spot(page, x, y) {
  const box = await page.locator('[data-sheet]').boundingBox();
  return { x: box.x + x * box.width, y: box.y + y * box.height };
}

async function drag(page, from, to) {
  const [start, end] = [await spot(page, ...from), await spot(page, ...to)];
  await page.mouse.move(start.x, start.y);
  await page.mouse.down();
  await page.mouse.move(end.x, end.y, { steps: 8 });
  await page.mouse.up();
}

const marksOn = (page) => page.locator('[data-mark]').count();

/** Opens one of the panels beside the page, if it is not open. */
export async function open(page, panel) {
  const turn = page.locator(`[data-turn=${panel}]`);
  if ((await turn.getAttribute('aria-expanded')) === 'false') await turn.click();
  await page.locator(`[data-panel=${panel}]`).waitFor();
}

/** What the program knows of the page that is open. */
export function viewOf(page) {
  const [, pupil, id] = new URL(page.url()).hash.match(/^#\/desk\/(\w+)\/(\w+)/);
  return page.evaluate(async (input) => {
    const request = { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify(input) };
    return (await fetch('/call/page', request)).json();
  }, { pupil, page: id });
}

async function put(tutor, count, praise = false) {
  await tutor.button(praise ? 'Put as “well done”' : 'Put as “to work on”').click();
  await tutor.page.waitForFunction((n) => document.querySelectorAll('[data-mark]').length === n, count);
}

/** Goes to what was put right on the open page, and takes it back. */
export async function takeBack(step, { page }) {
  await step('what was put right is shown on the page, and taken back', async () => {
    const byHand = page.locator('[data-put-right]');
    await page.locator('[data-sheet]').waitFor();
    await open(page, 'right');
    await byHand.locator('summary').click();
    // Far away from it: very large, and at the foot of the page.
    await page.locator('[data-stage]').focus();
    for (let n = 0; n < 6; n += 1) await page.keyboard.press('+');
    for (let n = 0; n < 20; n += 1) await page.keyboard.press('Shift+ArrowDown');
    await byHand.getByRole('button', { name: /^Letter .*: in two parts, put in$/ }).click();
    const picked = page.locator('[data-picked] rect');
    await picked.waitFor({ state: 'attached' });
    const [frame, at] = [await page.locator('[data-stage]').boundingBox(), await picked.boundingBox()];
    expect(at.y >= frame.y && at.y + at.height <= frame.y + frame.height, 'the place is not in sight');
    await byHand.getByRole('button', { name: /^Take back/ }).click();
    await byHand.waitFor({ state: 'detached', timeout: 60_000 });
  });
}

/** What the tutor does with one page: look, measure by eye and figure, mark. */
export async function desk(step, tutor, sentences) {
  const { page } = tutor;

  await step('an aspect is drawn over the page, and a figure shows its places', async () => {
    let measured = 0;
    await open(page, 'read');
    for (const aspect of ['baseline', 'xHeight', 'reach', 'gaps', 'slant']) {
      await page.locator(`[data-aspect=${aspect}]`).click();
      const shapes = await page.locator('[data-sheet] [data-overlay] > *').count();
      expect(shapes > 0, `nothing is drawn for ${aspect}`);
      measured += await page.locator('.figure .value').filter({ hasText: '±' }).count();
    }
    expect(measured >= 8, `only ${measured} figures were measured`);
    await page.locator('button.figure').first().click();
    await page.locator('[data-sheet] [data-lit] path').waitFor({ state: 'attached' });
    await screenHolds(page, 'desk');
  });

  await step('keys change the size of the page', async () => {
    const width = async () => (await page.locator('[data-sheet]').boundingBox()).width;
    const until = (holds) => page.waitForFunction(holds, before);
    const before = await width();
    await page.locator('[data-stage]').focus();
    await page.keyboard.press('+');
    await until((then) => document.querySelector('[data-sheet]').getBoundingClientRect().width > then);
    await page.keyboard.press('0');
    await until((then) => document.querySelector('[data-sheet]').getBoundingClientRect().width <= then);
  });

  await step('a letter is put right by keys', async () => {
    const panel = page.locator('[data-this-letter]');
    const byHand = page.locator('[data-put-right]');
    await open(page, 'read');
    await page.locator('[data-aspect=form]').click();
    await open(page, 'right');
    await panel.getByRole('button', { name: 'Next', exact: true }).focus();
    await page.keyboard.press('ArrowRight');
    await page.keyboard.press('ArrowRight');
    await page.locator('[data-picked] rect').waitFor({ state: 'attached' });
    await panel.getByLabel('Something else is amiss').selectOption({ label: 'in two parts' });
    await panel.getByRole('button', { name: 'Add', exact: true }).click();
    await byHand.waitFor({ timeout: 60_000 });
    await byHand.locator('summary').click();
    await screenHolds(page, 'desk-put-right');
    const line = await panel.locator('.fault').filter({ hasText: 'in two parts' }).innerText();
    expect(/^in two parts$/i.test(line.trim()), `what a person saw has a figure: ${line}`);
  });

  await step('the place of a letter is given in figures', async () => {
    const panel = page.locator('[data-this-letter]');
    const drawn = page.locator('[data-draft] rect');
    const length = async (name) => Number(await drawn.getAttribute(name));
    await panel.getByRole('button', { name: 'It is in another place' }).click();
    const [left, width] = [await length('x'), await length('width')];
    await panel.getByText('Place in figures').click();
    await panel.getByLabel('Left, mm').fill(String(left + 2));
    await panel.getByLabel('Width, mm').fill(String(width + 3));
    const [to, wide] = [await length('x'), await length('width')];
    expect(Math.abs(to - left - 2) < 0.02, `2 mm to the right of ${left} is not ${to}`);
    expect(Math.abs(wide - width - 3) < 0.02, `3 mm wider than ${width} is not ${wide}`);
    await screenHolds(page, 'desk-place');
    await panel.getByRole('button', { name: 'Cancel' }).click();
    await drawn.waitFor({ state: 'detached' });
    const focus = await page.evaluate(() => document.activeElement?.id);
    expect(focus === 'letter-title', `after it the focus is at “${focus}”`);
  });

  await step('a box is drawn with its sentence', async () => {
    await tutor.button('Whole page').click();
    await page.waitForTimeout(300);
    await open(page, 'marks');
    await tutor.button('Box').click();
    await drag(page, [0.2, 0.25], [0.45, 0.3]);
    const box = page.locator('[data-draft] rect');
    const share = async (name) => Number(await box.getAttribute(name)) / 210;
    expect(Math.abs((await share('x')) - 0.2) < 0.01 && Math.abs((await share('width')) - 0.25) < 0.01, 'the box is elsewhere');
    await page.getByLabel('Your sentence').fill(sentences.work);
    await page.getByLabel('About').selectOption({ label: 'Gaps' });
    await screenHolds(page, 'desk-marking');
    await put(tutor, 1);
  });

  await step('a stroke is drawn with the pen', async () => {
    await open(page, 'marks');
    await tutor.button('Pen').click();
    await drag(page, [0.2, 0.4], [0.6, 0.42]);
    const points = await page.locator('[data-draft] polyline').getAttribute('points');
    expect(points.split(' ').length > 4, `the stroke has the points ${points}`);
    await put(tutor, 2);
  });

  await step('a note of praise is placed by keys alone', async () => {
    await tutor.button('Text').focus();
    await page.keyboard.press('Enter');
    const at = () => page.locator('[data-draft] circle').evaluate((circle) => Number(circle.getAttribute('cx')));
    const before = await at();
    await page.locator('[data-stage]').focus();
    for (let n = 0; n < 3; n += 1) await page.keyboard.press('ArrowRight');
    expect(Math.abs((await at()) - before - 3) < 0.01, 'three keys did not move the note by 3 mm');
    await page.getByLabel('Your sentence').fill(sentences.praise);
    await put(tutor, 3, true);
  });

  await step('a mark is taken off again', async () => {
    await tutor.button('Text').click();
    await page.getByLabel('Your sentence').fill('One too many.');
    await put(tutor, 4);
    await page.getByRole('button', { name: 'Take off mark 4', exact: true }).click();
    await page.waitForFunction(() => document.querySelectorAll('[data-mark]').length === 3);
    expect((await marksOn(page)) === 3, 'three marks stay');
  });

  await step('the page is marked as looked at', async () => {
    await tutor.button('Mark as looked at').click();
    await page.getByText(/^Looked at on/).waitFor();
  });
}
