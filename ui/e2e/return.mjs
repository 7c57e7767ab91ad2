// Coming back, in a browser: by the key on paper, and from a backup. Two laptops of a tutor's, a family's telephone and a
// new laptop, each with a program of its own, on one network.
import { serve, temporaryFolder } from './lib/program.mjs';
import { Person } from './lib/people.mjs';
import { openBrowser, SIZES } from './lib/shots.mjs';
import { needed, tell } from './lib/steps.mjs';
import { broughtBack } from './stories/backup.mjs';
import { returning } from './stories/return.mjs';

const program = needed('POTHOOK_BIN');
const folders = await Promise.all(Array.from({ length: 5 }, temporaryFolder));
const browser = await openBrowser();

async function person({ address }, viewport) {
  const context = await browser.newContext({ viewport, reducedMotion: 'reduce', locale: 'en-GB' });
  context.setDefaultTimeout(15_000);
  const page = await context.newPage();
  await page.goto(address);
  return new Person(page);
}

const programs = [];
try {
  const [backups, ...data] = folders;
  for (const { path } of data) programs.push(await serve(program, path));
  const [tutor, stolen, spare] = await Promise.all([0, 1, 3].map((at) => person(programs[at], SIZES.laptop)));
  const parent = await person(programs[2], SIZES.phone);
  await tell(async (step) => {
    await returning(step, tutor, stolen, parent);
    await broughtBack(step, tutor, spare, backups.path);
  });
} finally {
  await browser.close();
  await Promise.all(programs.map((one) => one.stop()));
  await Promise.all(folders.map((folder) => folder.remove()));
}
