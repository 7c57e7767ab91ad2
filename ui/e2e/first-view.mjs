// How long a tutor of 40 pupils waits for the first view: from the start of the process to the day's list being drawn.
// Beside it, in turn with it, the same finished page as a file, with the same styles, typefaces and script (fetched, not
// run), served by node, which starts as well. Prints the median of five of both, and where the time goes.
//
// It checks nothing by itself unless POTHOOK_STRICT is set: another machine has another speed.
import { spawn } from 'node:child_process';
import { cp, readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { fileURLToPath } from 'node:url';
import { fillPractice, speaking } from './lib/practice.mjs';
import { serve, temporaryFolder, testPages } from './lib/program.mjs';
import { openBrowser } from './lib/shots.mjs';
import { expect, needed } from './lib/steps.mjs';

const LIMIT_MS = 1000;
const PUPILS = 40;
const RUNS = 5;
const program = needed('POTHOOK_BIN');
const pages = (await testPages(needed('POTHOOK_PAGES'))).filter((page) => page.ruling === 'lines' && page.page_format === 'A4').slice(0, 2);
const ui = (path) => fileURLToPath(new URL(path, import.meta.url));

/** One clock for this process and for pages: milliseconds of the wall, to a part of one. */
const now = () => performance.timeOrigin + performance.now();

/** Notes in a page, by the same clock, when `number` pupils stand in a frame that was drawn, and what came before. */
function watch(number) {
  window.drawn_ = new Promise((done) => {
    const all = () => new Set([...document.querySelectorAll('main [data-row]')].map((row) => row.dataset.row)).size === number;
    const channel = new MessageChannel();
    channel.port1.onmessage = () => {
      const began = performance.timeOrigin;
      const asked = performance.getEntriesByType('resource').find(({ name }) => name.endsWith('/call/pupils'));
      done({ began, drawn: began + performance.now(), asked: asked && [began + asked.startTime, began + asked.responseEnd] });
    };
    const look = () => {
      // The message comes after the frame's own work is done and handed on to be shown.
      if (all()) requestAnimationFrame(() => channel.port2.postMessage(null));
      else requestAnimationFrame(look);
    };
    requestAnimationFrame(look);
  });
}

/** Starts a process and draws its page: milliseconds from the start to the address, the page, its list. */
async function first(browser, [command, ...args]) {
  const context = await browser.newContext({ viewport: { width: 1366, height: 768 }, locale: 'en-GB' });
  const page = await context.newPage();
  await page.addInitScript(watch, PUPILS);
  const started = now();
  const child = spawn(command, args, { stdio: ['ignore', 'pipe', 'inherit'] });
  const ended = new Promise((done) => child.once('exit', done));
  try {
    const address = await new Promise((found, lost) => {
      void ended.then((code) => lost(new Error(`it ended with ${code}`)));
      createInterface({ input: child.stdout }).on('line', (line) => {
        const open = /^Open (http:\S+)$/.exec(line);
        if (open) found(open[1]);
      });
    });
    const answered = now();
    await page.goto(address, { waitUntil: 'commit' });
    const { began, drawn, asked } = await page.evaluate(() => window.drawn_);
    const html = await page.content();
    return { all: drawn - started, start: answered - started, load: (asked?.[0] ?? drawn) - began, list: asked ? asked[1] - asked[0] : 0, draw: asked ? drawn - asked[1] : 0, html };
  } finally {
    child.kill('SIGTERM');
    await ended;
    await context.close();
  }
}

/** The finished page as a file. Its script is fetched, so that as many bytes pass, and not run. */
async function finished(html, folder) {
  await cp(ui('../dist'), folder, { recursive: true });
  const kept = html.replace(/<script[^>]*src="([^"]+)"[^>]*><\/script>/g, '<link rel="preload" as="script" crossorigin href="$1">');
  expect(kept !== html && !kept.includes('<script'), 'the page still has a script');
  await writeFile(join(folder, 'index.html'), kept);
  return Buffer.byteLength(kept);
}

const median = (values) => [...values].sort((one, other) => one - other)[Math.floor(values.length / 2)];
const ms = (value) => `${value.toFixed(0).padStart(5)} ms`;

const [folder, files] = await Promise.all([temporaryFolder(), temporaryFolder()]);
const browser = await openBrowser();
try {
  const served = await serve(program, folder.path);
  const page = await browser.newPage();
  await fillPractice(await speaking(page, served.address), PUPILS, pages);
  await page.close();
  await served.stop();
  const ours = [program, '--data', folder.path, 'serve', '--port', '0'];
  // Once unmeasured: the first view after a practice was filled has its summaries to make.
  const cold = await first(browser, ours);
  const size = await finished(cold.html, files.path);
  const theirs = [process.execPath, ui('./lib/static.mjs'), files.path];
  await first(browser, theirs);
  const runs = { ours: [], theirs: [] };
  for (let run = 0; run < RUNS; run += 1) {
    runs.ours.push(await first(browser, ours));
    runs.theirs.push(await first(browser, theirs));
  }
  const of = (name, part) => median(runs[name].map((one) => one[part]));
  const ratio = of('ours', 'all') / of('theirs', 'all');
  console.log(`${PUPILS} pupils, ${pages.length} pages of every fifth; the finished page has ${(size / 1024).toFixed(0)} KiB; median of ${RUNS}`);
  console.log(`  the program, start to first view ${ms(of('ours', 'all'))}   (the very first time ${ms(cold.all)})`);
  console.log(`    process to its address         ${ms(of('ours', 'start'))}`);
  console.log(`    page to asking for the list    ${ms(of('ours', 'load'))}`);
  console.log(`    the program's answer           ${ms(of('ours', 'list'))}`);
  console.log(`    drawing it                     ${ms(of('ours', 'draw'))}`);
  console.log(`  the same page as a file, by node ${ms(of('theirs', 'all'))}   (process ${ms(of('theirs', 'start'))}, page ${ms(of('theirs', 'load'))})`);
  console.log(`  ratio ${ratio.toFixed(2)}`);
  if (process.env.POTHOOK_STRICT && of('ours', 'all') > LIMIT_MS) {
    console.log(`The first view takes over ${LIMIT_MS} ms.`);
    process.exitCode = 1;
  }
} finally {
  await browser.close();
  await Promise.all([folder.remove(), files.remove()]);
}
