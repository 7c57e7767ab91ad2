// Takes a picture of each kind of screen that one device has, found by following links from the
// first. Arguments: browser, address, width, height, and the start of the files' names.
import { chromium } from 'playwright-core';

const [executablePath, address, width, height, start] = process.argv.slice(-5);
const browser = await chromium.launch({ executablePath, args: ['--no-sandbox', '--disable-gpu'] });
try {
  const page = await browser.newPage({
    viewport: { width: Number(width), height: Number(height) },
    reducedMotion: 'reduce',
  });
  await page.goto(address);
  const taken = new Set();
  const waiting = ['#/home'];
  for (let href = waiting.shift(); href; href = waiting.shift()) {
    const screen = href.split('/')[1];
    if (taken.has(screen)) continue;
    taken.add(screen);
    if (taken.size > 1) await page.evaluate((to) => (location.hash = to), href);
    // A screen asks the program for what it shows; its heading stands once that has come.
    await page.locator('h1').first().waitFor({ timeout: 30_000 });
    await page.evaluate(() => document.fonts.ready);
    // A picture further down comes only when it is scrolled to.
    await page.waitForFunction(() =>
      [...document.images].every((image) => image.complete || image.loading === 'lazy'),
    );
    await page.waitForTimeout(500);
    const path = `${start}-${screen}.png`;
    await page.screenshot({ path });
    console.log(`   ${path}`);
    const links = page.locator('a[href^="#/"]');
    waiting.push(...(await links.evaluateAll((all) => all.map((link) => link.getAttribute('href')))));
  }
} finally {
  await browser.close();
}
