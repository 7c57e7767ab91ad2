// Coming back by the key on paper, in a browser: two laptops of a tutor's and a family's telephone, each with a program of
// its own, on one network.
import { serve, temporaryFolder } from './lib/program.mjs';
import { Person } from './lib/people.mjs';
import { openBrowser, SIZES } from './lib/shots.mjs';
import { needed, tell } from './lib/steps.mjs';
import { returning } from './stories/return.mjs';

const program = needed('POTHOOK_BIN');
const folders = await Promise.all(Array.from({ length: 3 }, temporaryFolder));
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
  for (const { path } of folders) programs.push(await serve(program, path));
  const [tutor, stolen, parent] = programs;
  await tell(async (step) =>
    returning(step, await person(tutor, SIZES.laptop), await person(stolen, SIZES.laptop), await person(parent, SIZES.phone)),
  );
} finally {
  await browser.close();
  await Promise.all(programs.map((one) => one.stop()));
  await Promise.all(folders.map((folder) => folder.remove()));
}
