import { mkdir, readFile } from 'node:fs/promises';
import { createRequire } from 'node:module';
import { join } from 'node:path';
import { expect } from './steps.mjs';

const axe = await readFile(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
const RULES = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'];
const NARROW = { width: 320, height: 700 };
const folder = process.env.POTHOOK_SCREENS;

/** Until the screen is drawn as it stands now, and whatever watches the size of its parts has heard of it. */
export async function drawn(page) {
  await page.evaluate(() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done))));
}

/** Gives the window another size; afterwards it is laid out and drawn at that size. */
export async function resize(page, size) {
  await page.setViewportSize(size);
  await page.waitForFunction((width) => innerWidth === width, size.width);
  await drawn(page);
}

/** Asks everything of a screen that every screen must keep: names, contrast, width, size of targets. */
export async function screenHolds(page, name) {
  const size = page.viewportSize();
  await picturesAreSeen(page, name);
  await accessibleInBoth(page, name);
  await picture(page, `${name}-${size.width}-light`);
  if (folder) {
    await page.emulateMedia({ colorScheme: 'dark', reducedMotion: 'reduce' });
    await picture(page, `${name}-${size.width}-dark`);
    await page.emulateMedia({ colorScheme: 'light', reducedMotion: 'reduce' });
  }
  await resize(page, NARROW);
  await fitsAcross(page, name);
  await targetsAreLarge(page, name);
  await picture(page, `${name}-${NARROW.width}-light`);
  await resize(page, size);
}

/** What must hold in the light; the dark changes colours alone. */
export async function accessibleInBoth(page, name) {
  await accessible(page, `${name}, light`, RULES);
  await page.emulateMedia({ colorScheme: 'dark', reducedMotion: 'reduce' });
  await accessible(page, `${name}, dark`, ['color-contrast']);
  await page.emulateMedia({ colorScheme: 'light', reducedMotion: 'reduce' });
}

async function accessible(page, name, wanted) {
  // Evaluated by the debugger, so the page's own policy against foreign scripts stays in force.
  await page.evaluate(axe);
  const violations = await page.evaluate(async (rules) => {
    // At its end nothing of the page lies under the menu at the foot, as it may in the midst of scrolling.
    const before = scrollY;
    scrollTo(0, document.documentElement.scrollHeight);
    const { violations } = await window.axe.run(document, { runOnly: rules });
    scrollTo(0, before);
    return violations.map(({ id, impact, nodes }) => ({ id, impact, at: nodes.map(({ html }) => html.slice(0, 160)) }));
  }, wanted);
  expect(violations.length === 0, `axe on ${name}: ${JSON.stringify(violations, null, 1)}`);
}

/** Nobody has to scroll sideways. */
export async function fitsAcross(page, name) {
  const { over, width, most } = await page.evaluate(() => {
    const over = document.documentElement.scrollWidth - window.innerWidth;
    const ends = (element) => element.getBoundingClientRect().right;
    // Whoever mends it wants to know where to look.
    const held = (one) => one !== null && one !== document.body && (getComputedStyle(one).overflowX !== 'visible' || held(one.parentElement));
    const outside = [...document.body.querySelectorAll('*')].filter(
      (one) => ends(one) > window.innerWidth + 0.5 && !held(one.parentElement),
    );
    const [most] = outside.sort((one, other) => ends(other) - ends(one));
    return { over, width: window.innerWidth, most: most?.outerHTML.slice(0, 120) };
  });
  expect(over <= 0, `${name} is ${over} px too wide for ${width} px, at ${most}`);
}

/** Does `act` with letters of `percent` of the usual size. */
export async function withLetters(page, percent, act) {
  const show = (scale) => page.evaluate((to) => document.documentElement.style.setProperty('--text-size', to), scale);
  await show(String(percent / 100));
  await act();
  await show('1');
}

/** Everything to press is at least 44 px high, but for links within a sentence (WCAG 2.2, 2.5.8). */
export async function targetsAreLarge(page, name) {
  const small = await page.evaluate(() =>
    [...document.querySelectorAll('button, a[href], label:has(input), select, textarea, input, summary')]
      // A link that has company in its line is part of a sentence.
      .filter((one) => !one.matches('a') || one.textContent.trim() === one.parentElement.textContent.trim())
      // A control inside its label is pressed by the label.
      .filter((element) => element.checkVisibility() && !element.closest('label:has(input)')?.contains(element.parentElement))
      .map((element) => ({ height: element.getBoundingClientRect().height, html: element.outerHTML.slice(0, 120) }))
      .filter(({ height }) => height > 0 && height < 43.5),
  );
  expect(small.length === 0, `targets under 44 px on ${name}: ${JSON.stringify(small, null, 1)}`);
}

/** Letters of twice the size need no scrolling sideways, not even on a narrow screen (WCAG 2.2, 1.4.4 and 1.4.10). */
export async function largeTextHolds(page, name) {
  const size = page.viewportSize();
  await withLetters(page, 200, async () => {
    for (const width of [NARROW.width, size.width]) {
      await resize(page, { ...size, width });
      await fitsAcross(page, `${name} with letters of twice the size`);
      await picture(page, `${name}-${width}-large`);
    }
  });
  await resize(page, size);
}

/** A page that is shown can be seen. */
export async function picturesAreSeen(page, name) {
  const small = await page.evaluate(() =>
    [...document.querySelectorAll(':has(> [data-sheet])')]
      .filter((stage) => stage.checkVisibility())
      .map((stage) => stage.getBoundingClientRect())
      .filter(({ width, height }) => Math.min(width, height) < 100)
      .map(({ width, height }) => `${width} × ${height}`),
  );
  expect(small.length === 0, `${name} shows a page at ${small.join(', ')} px`);
}

/**
 * What has the focus: `key` tells elements apart, and is null where nothing has it; `covered` says that something lies over
 * it, `unmarked` that nothing shows that it has the focus, each by naming it; `aimed` whether it is `target`.
 */
export function focusNow(page, target = null) {
  return page.evaluate((wanted) => {
    const element = document.activeElement;
    if (!element || element === document.body) return { key: null };
    window.focused ??= new WeakMap();
    if (!focused.has(element)) focused.set(element, String(Math.random()));
    const shown = element.closest('label') ?? element;
    const { left, top, width, height } = shown.getBoundingClientRect();
    const x = left + width / 2;
    // A high field may be partly out of sight; its upper or its lower end is there.
    const ends = [top + Math.min(height / 2, 20), top + height - Math.min(height / 2, 20)];
    const seen = ends.some((y) => {
      const at = document.elementFromPoint(x, y);
      return at !== null && (shown.contains(at) || at.contains(shown));
    });
    const outlined = [element, shown].some((one) => {
      const { outlineStyle, outlineWidth } = getComputedStyle(one);
      return outlineStyle !== 'none' && parseFloat(outlineWidth) >= 2 && Number(getComputedStyle(one).opacity) > 0;
    });
    const html = element.outerHTML.slice(0, 160);
    return {
      key: focused.get(element),
      covered: seen ? null : html,
      unmarked: outlined ? null : html,
      aimed: element === wanted,
    };
  }, target);
}

/** Whatever takes the focus by the tab key is in sight, with nothing over it, and shows it (WCAG 2.2, 2.4.7 and 2.4.11). */
export async function focusStaysInSight(page, name) {
  await page.evaluate(() => (document.activeElement?.blur(), scrollTo(0, 0)));
  const seen = new Set();
  for (;;) {
    await page.keyboard.press('Tab');
    const { key, covered, unmarked } = await focusNow(page);
    expect(!covered, `on ${name} the focus is hidden at ${covered}`);
    expect(!unmarked, `on ${name} nothing shows the focus at ${unmarked}`);
    if (key === null || seen.has(key)) break;
    seen.add(key);
  }
  expect(seen.size > 2, `on ${name} hardly anything takes the focus`);
}

/** Keeps a picture of the screen where the caller wants pictures. */
export async function picture(page, name) {
  if (!folder) return;
  await mkdir(folder, { recursive: true });
  await page.screenshot({ path: join(folder, `${name}.png`), fullPage: true });
}

/** Texts on screen that did not come through the catalogue, given that it is the pseudo one, nor are single words of `data`. */
export async function foreignTexts(page, data) {
  return page.evaluate((known) => {
    const words = new Set(known.flatMap((one) => one.toLowerCase().split(/[^\p{Letter}’'-]+/u)));
    const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    const found = [];
    for (let node = walker.nextNode(); node; node = walker.nextNode()) {
      const text = node.textContent.trim();
      const marked = text.includes('⟦') || text.includes('⟧');
      // Days, figures and addresses are written by rules of their own.
      const figure = /^[\d−+±.,:% ]*([A-Z][a-z]+ ?\d*)?$/.test(text);
      // A letter of the alphabet is itself in every language that has it.
      const ours = known.some((one) => text.includes(one)) || words.has(text);
      if (text.length > 1 && !marked && !figure && !ours) found.push(text);
    }
    return found;
  }, data);
}
