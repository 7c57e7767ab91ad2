// Sets pictures of every screen beside those that somebody has accepted, and names the ones that differ.
//
//   node e2e/snapshots.mjs ADDRESS FOLDER NAME [--accept]
//
// ADDRESS is what a running program printed, with its secret; FOLDER is where accepted pictures lie; NAME is whose device
// it is. `--accept` takes the pictures of now. More than 2 MB of them are kept in small only: 32 × 32 greys of each, in
// FOLDER/NAME.json. FOLDER/bounds.json may name a share for a picture, such as { "tutor-desk-phone-dark": 0.05 }; more
// than that may not differ. The pictures of now lie in FOLDER.now afterwards.
import { mkdir, readdir, readFile, rm, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { differenceInSmall, openComparer } from './lib/pictures.mjs';
import { eachScreen, openBrowser } from './lib/shots.mjs';

/** Share of a picture that may differ where no other is named. */
const BOUND = 0.01;
const MOST_BYTES = 2_000_000;

const accept = process.argv.includes('--accept');
const [address, folder, name] = process.argv.slice(2).filter((one) => one !== '--accept');
if (!address || !folder || !name) {
  console.log('node e2e/snapshots.mjs ADDRESS FOLDER NAME [--accept]');
  process.exit(2);
}
const smallPath = join(folder, `${name}.json`);
const json = (path) => readFile(path, 'utf8').then(JSON.parse, () => ({}));
const mine = (file) => file.startsWith(`${name}-`) && file.endsWith('.png');

/** Pictures of now, by name. */
async function take(browser) {
  const taken = new Map();
  const wide = await eachScreen(browser, address, 100, async (page, { name: screen, size, scheme }) => {
    taken.set(`${name}-${screen}-${size}-${scheme}`, await page.screenshot());
  });
  for (const one of wide) console.log(one);
  const now = `${folder}.now`;
  await mkdir(now, { recursive: true });
  for (const [picture, png] of taken) await writeFile(join(now, `${picture}.png`), png);
  return taken;
}

async function keep(taken, comparer) {
  await mkdir(folder, { recursive: true });
  for (const file of (await readdir(folder)).filter(mine)) await rm(join(folder, file));
  await rm(smallPath, { force: true });
  const bytes = [...taken.values()].reduce((sum, png) => sum + png.length, 0);
  if (bytes <= MOST_BYTES) {
    for (const [picture, png] of taken) await writeFile(join(folder, `${picture}.png`), png);
  } else {
    const small = {};
    for (const [picture, png] of taken) small[picture] = await comparer.inSmall(png);
    await writeFile(smallPath, `${JSON.stringify(small, null, 1)}\n`);
  }
  console.log(`${taken.size} accepted, ${bytes > MOST_BYTES ? 'in small' : 'as they are'} (${bytes} bytes)`);
}

async function compare(taken, comparer) {
  const [small, bounds] = [await json(smallPath), await json(join(folder, 'bounds.json'))];
  const files = await readdir(folder).catch(() => []);
  const accepted = new Set([...files.filter(mine).map((file) => file.slice(0, -4)), ...Object.keys(small)]);
  let failed = 0;
  for (const picture of [...new Set([...accepted, ...taken.keys()])].sort()) {
    const png = taken.get(picture);
    if (!accepted.has(picture) || !png) {
      failed += 1;
      console.log(`FAILED: ${picture}: ${png ? 'nobody has accepted it yet' : 'there is no such screen any more'}`);
      continue;
    }
    const differ = small[picture]
      ? differenceInSmall(small[picture], await comparer.inSmall(png))
      : await comparer.difference(await readFile(join(folder, `${picture}.png`)), png);
    const bound = bounds[picture] ?? BOUND;
    if (differ > bound) failed += 1;
    console.log(`${differ > bound ? 'FAILED' : 'passed'}: ${picture}: ${(100 * differ).toFixed(2)} % differ, at most ${100 * bound} %`);
  }
  console.log(`${accepted.size} accepted, ${failed} failed`);
  process.exitCode = failed > 0 || accepted.size === 0 ? 1 : 0;
}

const browser = await openBrowser();
try {
  const taken = await take(browser);
  const comparer = await openComparer(browser);
  await (accept ? keep : compare)(taken, comparer);
  await comparer.close();
} finally {
  await browser.close();
}
