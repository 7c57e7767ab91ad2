// What a tutor says of a sheet at the desk: that something on it is no writing of the pupil's, and where a line was missed.
import { screenHolds } from '../lib/checks.mjs';
import { open, spot, viewOf } from '../lib/desk.mjs';
import { expect } from '../lib/steps.mjs';

/** The box round the writing of some lines, in mm. */
function roundLines({ words, frame }, ...lines) {
  const boxes = words.filter(({ line }) => lines.includes(line)).map(({ bounds }) => bounds);
  const most = (way, edge) => Math[way](...boxes.map((one) => one[edge]));
  const at = { x0: most('min', 'x0') - 1, y0: most('min', 'y0'), x1: most('max', 'x1') + 1, y1: most('max', 'y1') };
  return { ...at, shares: [[at.x0 / frame.width, at.y0 / frame.height], [at.x1 / frame.width, at.y1 / frame.height]] };
}

/** What the screen says of an aspect: its figures as they are read. */
async function figuresOf(page, aspect) {
  await open(page, 'read');
  const button = page.locator(`[data-aspect=${aspect}]`);
  if ((await button.getAttribute('aria-pressed')) === 'false') await button.click();
  await page.locator('[data-figure]').first().waitFor();
  return page.locator('[data-figure]').allInnerTexts();
}

/** How many letters, lines or words the first figure rests on. */
const restsOn = ([first]) => Number(first.match(/based on (\d+)/)[1]);

/** What a screen reader says of the page besides its name. */
const said = (page) =>
  page.locator('[data-stage]').first().evaluate((stage) => document.getElementById(stage.getAttribute('aria-describedby')).textContent);

/** A shape lies where it is meant to lie, to a few pixels. */
async function liesAt(page, shape, { shares: [from, to] }) {
  const box = await shape.boundingBox();
  const [start, end] = [await spot(page, ...from), await spot(page, ...to)];
  const off = [box.x - start.x, box.y - start.y, box.x + box.width - end.x, box.y + box.height - end.y];
  expect(off.every((far) => Math.abs(far) < 3), `it lies ${off.map(Math.round)} px from its place`);
}

/** Opens the list of what was put right. */
async function listed(page, n) {
  const byHand = page.locator('[data-put-right]');
  await open(page, 'right');
  await byHand.getByText(`Put right by hand: ${n}`).waitFor();
  if ((await byHand.getAttribute('open')) === null) await byHand.locator('summary').click();
  return byHand;
}

/**
 * `tutor` is a `Person` at the desk with a page on which nothing was put right, and no aspect is looked at. Afterwards it
 * is as it was before.
 */
export async function ofTheSheet(step, tutor) {
  const { page } = tutor;

  await step('what is no writing of the pupil’s is left out by keys, stays to be seen, and is taken back', async () => {
    const before = await figuresOf(page, 'xHeight');
    const at = roundLines((await viewOf(page)).reading, 0);
    await open(page, 'right');
    const panel = page.locator('[data-this-letter]');
    for (const button of [panel.locator('[data-of-sheet] summary'), tutor.button('Something here is not the pupil’s writing')]) {
      await button.focus();
      await page.keyboard.press('Enter');
    }
    await panel.getByText('Place in figures').focus();
    await page.keyboard.press('Enter');
    const place = { 'Left, mm': at.x0, 'Top, mm': at.y0, 'Width, mm': at.x1 - at.x0, 'Height, mm': at.y1 - at.y0 };
    for (const [name, mm] of Object.entries(place)) {
      await panel.getByLabel(name).focus();
      await page.keyboard.press('Control+a');
      await page.keyboard.insertText(mm.toFixed(2));
    }
    // What figures have moved is in sight all the same.
    const [frame, drawn] = [await page.locator('[data-stage]').boundingBox(), await page.locator('[data-draft] rect').boundingBox()];
    const [x, y] = [drawn.x + drawn.width / 2 - frame.x, drawn.y + drawn.height / 2 - frame.y];
    expect(x > 0 && x < frame.width && y > 0 && y < frame.height, `the box stands at ${x}, ${y} of a frame of ${frame.width} × ${frame.height}`);
    await tutor.button('Leave this out').focus();
    await page.keyboard.press('Enter');
    const shape = page.locator('[data-sheet] [data-kind=leftOut]');
    await shape.waitFor({ state: 'attached', timeout: 60_000 });
    const list = await listed(page, 1);
    await list.getByRole('button', { name: 'Not the pupil’s writing: left out', exact: true }).waitFor();
    await liesAt(page, shape, at);
    await screenHolds(page, 'desk-left-out');
    const after = await figuresOf(page, 'xHeight');
    expect(restsOn(after) < restsOn(before), `the figures rest on ${restsOn(after)} letters, as before on ${restsOn(before)}`);
    await page.getByText(/^Hatched: not the pupil’s writing/).waitFor();
    // Whatever else is looked at, and if nothing is.
    await page.keyboard.press('2');
    await page.locator('[data-sheet] [data-overlay] > *').first().waitFor({ state: 'detached' });
    expect((await shape.count()) === 1, 'it is seen only with an aspect');
    expect((await said(page)).includes('1 place on it is left out'), `a screen reader hears “${await said(page)}”`);
    await (await listed(page, 1)).getByRole('button', { name: 'Take back: Not the pupil’s writing: left out' }).press('Enter');
    await shape.waitFor({ state: 'detached', timeout: 60_000 });
    expect(!(await said(page)).includes('left out'), `a screen reader still hears “${await said(page)}”`);
    const back = await figuresOf(page, 'xHeight');
    expect(back.join() === before.join(), `${before}\nbecame\n${back}`);
    await page.keyboard.press('2');
  });

  await step('a line is shown by tapping its two corners, stays to be seen, and is taken back', async () => {
    const lines = async () => (await viewOf(page)).reading.lines.length;
    const before = await figuresOf(page, 'baseline');
    const [seen, at] = [await lines(), roundLines((await viewOf(page)).reading, 0, 1)];
    await open(page, 'right');
    await page.locator('[data-of-sheet] summary').click();
    await tutor.button('A line of writing was missed').click();
    await tutor.button('Whole page').click();
    await page.waitForTimeout(300);
    for (const corner of at.shares) {
      const { x, y } = await spot(page, ...corner);
      await page.mouse.click(x, y);
    }
    await tutor.button('One line of writing is here').click();
    const shape = page.locator('[data-sheet] [data-kind=givenLine]');
    await shape.waitFor({ state: 'attached', timeout: 60_000 });
    await liesAt(page, shape, at);
    // Two lines told to be one are one.
    expect((await lines()) === seen - 1, `${seen} lines became ${await lines()}`);
    const after = await figuresOf(page, 'baseline');
    expect(after.join() !== before.join(), 'no figure follows');
    await page.getByText(/^Between brackets: one line of writing/).waitFor();
    expect((await said(page)).includes('1 line on it was shown by hand'), `a screen reader hears “${await said(page)}”`);
    const list = await listed(page, 1);
    await list.getByRole('button', { name: 'A line of writing is here', exact: true }).waitFor();
    await list.getByRole('button', { name: 'Take back: A line of writing is here' }).click();
    await shape.waitFor({ state: 'detached', timeout: 60_000 });
    const back = await figuresOf(page, 'baseline');
    expect(back.join() === before.join() && (await lines()) === seen, `${before}\nbecame\n${back}`);
    await page.keyboard.press('1');
    await page.locator('[data-sheet] [data-overlay] > *').first().waitFor({ state: 'detached' });
  });
}
