// Takes pictures of one device: the screen it opens with, then each one that its navigation leads
// to. Arguments: browser, address, width, height, and the start of the files' names.
import { chromium } from 'playwright-core';

const [executablePath, address, width, height, start] = process.argv.slice(-5);
const browser = await chromium.launch({ executablePath, args: ['--no-sandbox', '--disable-gpu'] });
try {
  const page = await browser.newPage({
    viewport: { width: Number(width), height: Number(height) },
  });
  await page.goto(address);
  await settle();
  await picture('first');
  const ways = await page.locator('nav a, nav button').count();
  for (let nth = 0; nth < ways; nth += 1) {
    const way = page.locator('nav a, nav button').nth(nth);
    if (!(await way.isVisible())) continue;
    const name = (await way.innerText()).trim().toLowerCase().replaceAll(/\W+/g, '-');
    await way.click();
    await settle();
    await picture(name);
  }

  async function settle() {
    // A screen asks the program for what it shows; its heading stands once that has come.
    await page.locator('h1').first().waitFor({ timeout: 30_000 });
    await page.evaluate(() => document.fonts.ready);
    await page.waitForTimeout(500);
  }

  async function picture(name) {
    const path = `${start}-${name}.png`;
    await page.screenshot({ path });
    console.log(`   ${path}`);
  }
} finally {
  await browser.close();
}
