// A sheet of pictures for each size of screen, with every screen of a device on it, in the light and in the dark.
//
//   node e2e/contact.mjs ADDRESS FOLDER [NAME] [TEXT SIZE]
//
// ADDRESS is what a running program printed, with its secret. Writes FOLDER/NAME-phone.png and FOLDER/NAME-laptop.png.
// TEXT SIZE is in per cent, 100 to 200. Screens that have to be scrolled sideways are told by name.
import { mkdir, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { eachScreen, openBrowser, SCHEMES, SIZES } from './lib/shots.mjs';

const [address, folder, name = 'screens', textSize = '100'] = process.argv.slice(2);
if (!address || !folder) {
  console.log('node e2e/contact.mjs ADDRESS FOLDER [NAME] [TEXT SIZE]');
  process.exit(2);
}
/** Of a longer screen the end is left out. */
const MOST_HEIGHTS = 3;
/** How wide a picture stands on the sheet. */
const WIDTHS = { phone: 260, laptop: 620 };

const escaped = (text) => text.replace(/[&<"]/g, (sign) => `&#${sign.codePointAt(0)};`);

/** The pictures side by side: one screen a cell, light and dark next to each other. */
function sheet(pictures, size) {
  const cells = [...new Set(pictures.map(({ name }) => name))].map((screen) => {
    const images = SCHEMES.flatMap((scheme) => pictures.filter((one) => one.name === screen && one.scheme === scheme));
    const drawn = images.map(({ png }) => `<img width="${WIDTHS[size]}" src="data:image/png;base64,${png.toString('base64')}">`);
    return `<figure><figcaption>${escaped(screen)}</figcaption>${drawn.join('')}</figure>`;
  });
  const style =
    'body{margin:0;padding:8px;width:2600px;background:#777;display:flex;flex-wrap:wrap;gap:16px;align-items:flex-start}' +
    'figure{margin:0;white-space:nowrap}figcaption{font:16px sans-serif;color:#fff}img{vertical-align:top;margin-right:4px}';
  return `<!doctype html><style>${style}</style>${cells.join('')}`;
}

const browser = await openBrowser();
try {
  await mkdir(folder, { recursive: true });
  const pictures = [];
  const wide = await eachScreen(browser, address, textSize, async (page, { name, size, scheme }) => {
    // All of it in one piece, so that what sticks to an edge does so once.
    const { width, height } = SIZES[size];
    const whole = await page.evaluate(() => document.documentElement.scrollHeight);
    await page.setViewportSize({ width, height: Math.min(Math.max(whole, height), MOST_HEIGHTS * height) });
    pictures.push({ name, size, scheme, png: await page.screenshot() });
    await page.setViewportSize({ width, height });
  });
  for (const size of Object.keys(SIZES)) {
    const page = await browser.newPage({ viewport: { width: 2616, height: 900 } });
    await page.setContent(sheet(pictures.filter((one) => one.size === size), size));
    const path = join(folder, `${name}-${size}.png`);
    await writeFile(path, await page.screenshot({ fullPage: true }));
    await page.close();
    console.log(path);
  }
  for (const one of wide) console.log(one);
} finally {
  await browser.close();
}
