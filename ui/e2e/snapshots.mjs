// Sets a picture of every screen beside the one that somebody has accepted, and names those that differ: all screens of a
// tutor and of a family with the invented pupil, on a telephone and a laptop, in the light and in the dark.
//
//   node e2e/snapshots.mjs            compares, and ends with a line such as “68 passed, 0 failed”
//   node e2e/snapshots.mjs --accept   takes the pictures of now
//
// A picture is kept in small, as 32 × 32 greys, in e2e/snapshots.json: what moves, grows, vanishes or changes its shade is
// seen, and how a browser draws its letters is not. The date and the hour are pinned, the typefaces come with the program,
// and the figures are the same on every machine. So that somebody can look at what differs, POTHOOK_SCREENS names a folder
// for the pictures as they are.
import { mkdir, readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { differenceInSmall, openComparer } from './lib/pictures.mjs';
import { pin } from './lib/pinned.mjs';
import { pairFamilyOf, speaking } from './lib/practice.mjs';
import { serve, temporaryFolder } from './lib/program.mjs';
import { eachScreen, openBrowser } from './lib/shots.mjs';
import { needed } from './lib/steps.mjs';

/** Share of a picture's cells that may differ. */
const BOUND = 0.01;
const ACCEPTED = fileURLToPath(new URL('./snapshots.json', import.meta.url));
const program = needed('POTHOOK_BIN');
const folder = process.env.POTHOOK_SCREENS;

/** A tutor's and a family's program with the invented pupil: their addresses, and when the example was made. */
async function example(browser, programs) {
  const page = async () => (await browser.newContext()).newPage();
  const [tutor, family] = [await speaking(await page(), programs[0].address), await speaking(await page(), programs[1].address)];
  const made = Date.now();
  await tutor.call('load_example', {});
  const { pupils } = await tutor.call('pupils', {});
  await pairFamilyOf(pupils[0].pupil, tutor, family);
  for (const context of browser.contexts()) await context.close();
  return made;
}

/** Whether every picture in sight has come; those further down come only when they are scrolled to. */
function seenAreThere() {
  const seen = [...document.images].filter((image) => {
    const { top, bottom, width } = image.getBoundingClientRect();
    return width > 0 && bottom > 0 && top < innerHeight;
  });
  // None waits to be scrolled to, nor is left out of a frame because it is still being read.
  for (const image of seen) Object.assign(image, { loading: 'eager', decoding: 'sync' });
  return seen.every((image) => image.complete && image.naturalWidth > 0);
}

/** Pictures of now in small, by name. */
async function take(browser, programs) {
  const made = await example(browser, programs);
  const comparer = await openComparer(browser);
  const small = {};
  for (const [at, whose] of ['tutor', 'family'].entries()) {
    const each = async (page, { name, size, scheme }) => {
      // The field that the caret blinks in looks the other way half of the time.
      await page.evaluate(() => document.activeElement?.blur());
      await page.waitForFunction(seenAreThere);
      const picture = `${whose}-${name}-${size}-${scheme}`;
      const png = await page.screenshot({ animations: 'disabled', caret: 'hide' });
      small[picture] = await comparer.inSmall(png);
      if (folder) await writeFile(join(folder, `${picture}.png`), png);
    };
    await eachScreen(browser, programs[at].address, 100, each, { prepare: (context) => pin(context, made) });
  }
  await comparer.close();
  return small;
}

function compare(accepted, taken) {
  let [passed, failed] = [0, 0];
  for (const picture of [...new Set([...Object.keys(accepted), ...Object.keys(taken)])].sort()) {
    const [before, now] = [accepted[picture], taken[picture]];
    const differ = before && now ? differenceInSmall(before, now) : 1;
    if (differ <= BOUND) {
      passed += 1;
      continue;
    }
    failed += 1;
    const why = !before ? 'nobody has accepted it yet' : !now ? 'there is no such screen any more' : `${(100 * differ).toFixed(1)} % differ`;
    console.log(`FAILED: ${picture}: ${why}`);
  }
  console.log(`${passed} passed, ${failed} failed`);
  process.exitCode = failed > 0 || passed === 0 ? 1 : 0;
}

if (folder) await mkdir(folder, { recursive: true });
const folders = [await temporaryFolder(), await temporaryFolder()];
const programs = [];
const browser = await openBrowser();
try {
  for (const { path } of folders) programs.push(await serve(program, path));
  const taken = await take(browser, programs);
  if (process.argv.includes('--accept')) {
    await writeFile(ACCEPTED, `${JSON.stringify(taken, null, 1)}\n`);
    console.log(`${Object.keys(taken).length} accepted`);
  } else compare(JSON.parse(await readFile(ACCEPTED, 'utf8').catch(() => '{}')), taken);
} finally {
  await browser.close();
  await Promise.all(programs.map((one) => one.stop()));
  await Promise.all(folders.map((one) => one.remove()));
}
