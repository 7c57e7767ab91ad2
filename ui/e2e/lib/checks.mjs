import { mkdir, readFile } from 'node:fs/promises';
import { createRequire } from 'node:module';
import { join } from 'node:path';
import { expect } from './steps.mjs';

const axe = await readFile(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
const RULES = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'];
const NARROW = { width: 320, height: 700 };
const folder = process.env.POTHOOK_SCREENS;

/** Asks everything of a screen that every screen must keep: names, contrast, width, size of targets. */
export async function screenHolds(page, name) {
  const size = page.viewportSize();
  await accessible(page, `${name}, light`, RULES);
  await picture(page, `${name}-${size.width}-light`);
  await page.emulateMedia({ colorScheme: 'dark', reducedMotion: 'reduce' });
  await accessible(page, `${name}, dark`, ['color-contrast']);
  await picture(page, `${name}-${size.width}-dark`);
  await page.emulateMedia({ colorScheme: 'light', reducedMotion: 'reduce' });
  await page.setViewportSize(NARROW);
  await fitsAcross(page, name);
  await targetsAreLarge(page, name);
  await picture(page, `${name}-${NARROW.width}-light`);
  await page.setViewportSize(size);
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

async function fitsAcross(page, name) {
  const over = await page.evaluate(() => document.documentElement.scrollWidth - window.innerWidth);
  expect(over <= 0, `${name} is ${over} px too wide for ${NARROW.width} px`);
}

/** Everything to press is at least 44 px high, but for links within a sentence (WCAG 2.2, 2.5.8). */
async function targetsAreLarge(page, name) {
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
  const show = (scale) => page.evaluate((to) => document.documentElement.style.setProperty('--text-size', to), scale);
  await show('2');
  for (const width of [NARROW.width, size.width]) {
    await page.setViewportSize({ ...size, width });
    await fitsAcross(page, `${name} with letters of twice the size`);
    await picture(page, `${name}-${width}-large`);
  }
  await page.setViewportSize(size);
  await show('1');
}

/** Whatever takes the focus by the tab key is in sight, with nothing over it (WCAG 2.2, 2.4.11). */
export async function focusStaysInSight(page, name) {
  await page.evaluate(() => (document.activeElement?.blur(), scrollTo(0, 0)));
  const seen = new Set();
  for (;;) {
    await page.keyboard.press('Tab');
    const { key, covered } = await page.evaluate(() => {
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
      return { key: focused.get(element), covered: seen ? null : element.outerHTML.slice(0, 160) };
    });
    expect(!covered, `on ${name} the focus is hidden at ${covered}`);
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
