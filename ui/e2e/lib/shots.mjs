// Pictures of every screen of a running program, in both sizes and both schemes.
import { chromium } from 'playwright-core';
import { allScreens, goTo } from './routes.mjs';

export const SIZES = { phone: { width: 390, height: 844 }, laptop: { width: 1366, height: 768 } };
export const SCHEMES = ['light', 'dark'];

export function openBrowser() {
  return chromium.launch({
    executablePath: process.env.POTHOOK_CHROMIUM || '/usr/bin/chromium',
    args: ['--no-sandbox', '--disable-gpu', '--disable-dev-shm-usage'],
  });
}

/**
 * Goes through all screens of the program at `address`, secret included, and calls
 * `take(page, { name, size, scheme })` at each; `textSize` is in per cent; `prepare` is told of each context before it
 * has a page. Says which screens are too wide.
 */
export async function eachScreen(browser, address, textSize, take, { sizes = SIZES, schemes = SCHEMES, prepare } = {}) {
  const wide = [];
  for (const [size, viewport] of Object.entries(sizes)) {
    for (const scheme of schemes) {
      const context = await browser.newContext({ viewport, colorScheme: scheme, reducedMotion: 'reduce', locale: 'en-GB', timezoneId: 'UTC' });
      await prepare?.(context);
      await context.addInitScript((to) => localStorage.setItem('text-size', to), String(textSize));
      const page = await context.newPage();
      await page.goto(address);
      await page.locator('main h1').first().waitFor({ timeout: 30_000 });
      for (const { name, hash } of await allScreens(page)) {
        await goTo(page, hash);
        const over = await page.evaluate(() => document.documentElement.scrollWidth - window.innerWidth);
        if (over > 0) wide.push(`${name}, ${size}, ${scheme}: ${over} px too wide`);
        await take(page, { name, size, scheme });
      }
      await context.close();
    }
  }
  return wide;
}
