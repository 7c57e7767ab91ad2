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
    const { violations } = await window.axe.run(document, { runOnly: rules });
    return violations.map(({ id, impact, nodes }) => ({ id, impact, at: nodes.map(({ html }) => html.slice(0, 160)) }));
  }, wanted);
  expect(violations.length === 0, `axe on ${name}: ${JSON.stringify(violations, null, 1)}`);
}

async function fitsAcross(page, name) {
  const over = await page.evaluate(() => document.documentElement.scrollWidth - window.innerWidth);
  expect(over <= 0, `${name} is ${over} px too wide for ${NARROW.width} px`);
}

/** Everything to press is at least 44 px high, but for links in running text. */
async function targetsAreLarge(page, name) {
  const small = await page.evaluate(() =>
    [...document.querySelectorAll('button, a.button, label:has(input), select, textarea, input, summary, nav a')]
      // A control inside its label is pressed by the label.
      .filter((element) => element.checkVisibility() && !element.closest('label:has(input)')?.contains(element.parentElement))
      .map((element) => ({ height: element.getBoundingClientRect().height, html: element.outerHTML.slice(0, 120) }))
      .filter(({ height }) => height > 0 && height < 43.5),
  );
  expect(small.length === 0, `targets under 44 px on ${name}: ${JSON.stringify(small, null, 1)}`);
}

/** Keeps a picture of the screen where the caller wants pictures. */
export async function picture(page, name) {
  if (!folder) return;
  await mkdir(folder, { recursive: true });
  await page.screenshot({ path: join(folder, `${name}.png`), fullPage: true });
}

/** Texts on screen that did not come through the catalogue, given that it is the pseudo one. */
export async function foreignTexts(page, data) {
  return page.evaluate((known) => {
    const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    const found = [];
    for (let node = walker.nextNode(); node; node = walker.nextNode()) {
      const text = node.textContent.trim();
      const marked = text.includes('⟦') || text.includes('⟧');
      // Days and figures are written by the system's own rules for the language.
      const figure = /^[\d−+±.,% ]*([A-Z][a-z]+ ?\d*)?$/.test(text);
      if (text && !marked && !figure && !known.some((one) => text.includes(one))) found.push(text);
    }
    return found;
  }, data);
}
