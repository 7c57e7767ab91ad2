// How fast the desk answers the hand: intervals of frames while a page with the most shapes on it is moved, and the time
// from the pointer to ink. Prints median and worst, as it is and with the processor slowed down four times. It checks
// nothing by itself unless POTHOOK_STRICT is set: another machine has another speed. POTHOOK_TRACE names a folder for the
// traces, which the browser's own tools show.
import { mkdir, readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { chromium } from 'playwright-core';
import { serve, temporaryFolder, testPages } from './lib/program.mjs';
import { needed } from './lib/steps.mjs';

const LIMIT_MS = 50;
/** What a trace calls one task of a thread. */
const TASKS = new Set(['RunTask', 'ThreadControllerImpl::RunTask']);
const program = needed('POTHOOK_BIN');
const sample = (await testPages(needed('POTHOOK_PAGES'))).find((page) => page.ruling === 'lines' && page.page_format === 'A4');

/** A tutor with one page on the desk. */
async function prepared(page, address) {
  await page.goto(address);
  await page.getByRole('heading', { level: 1 }).waitFor();
  const photo = (await readFile(sample.path)).toString('base64');
  const [pupil, id] = await page.evaluate(
    async ([text, base64]) => {
      const send = async (path, body, type) => {
        const answer = await fetch(path, { method: 'POST', headers: { 'content-type': type }, body });
        if (!answer.ok) throw new Error(await answer.text());
        return answer.json();
      };
      const call = (verb, input) => send(`/call/${verb}`, JSON.stringify(input), 'application/json');
      await call('settle', { role: 'tutor', name: 'Ms Wren' });
      const { models } = await call('letter_models', {});
      const ruling = { kind: 'lines', pitch: 8 };
      const profile = { name: 'Ada', year: 3, hand: 'right', model: models[0], paper: 'a4', ruling };
      const { pupil } = await call('add_pupil', { profile });
      const task = { pupil, kind: 'copied', text, paper: null, ruling: null, minutes: 10, focus: null, setOn: null };
      const { task: answers } = await call('set_task', task);
      const about = encodeURIComponent(JSON.stringify({ pupil, task: answers, kind: null, writtenOn: null }));
      const bytes = Uint8Array.from(atob(base64), (letter) => letter.charCodeAt(0));
      const { handle } = await send(`/photo?about=${about}`, bytes, 'application/octet-stream');
      const kept = await call('keep_page', { handle, despite: true });
      return [pupil, kept.page];
    },
    [sample.text, photo],
  );
  await page.goto(new URL(`/#/desk/${pupil}/${id}`, page.url()).href);
  await page.reload();
  await page.locator('[data-sheet] img').waitFor();
  await page.waitForTimeout(1500);
}

/** Shows the aspect with the most shapes and says how many there are. */
async function fullest(page) {
  let most = { aspect: '', shapes: 0 };
  for (const aspect of ['baseline', 'xHeight', 'reach', 'form', 'joins', 'gaps', 'slant', 'corrections']) {
    await page.locator(`[data-aspect=${aspect}]`).click();
    const shapes = await page.locator('[data-overlay]').first().evaluate((overlay) =>
      [...overlay.querySelectorAll('path')].reduce((sum, path) => sum + (path.getAttribute('d').match(/M/g)?.length ?? 0), 0) +
      overlay.querySelectorAll('text').length,
    );
    if (shapes > most.shapes) most = { aspect, shapes };
  }
  await page.locator(`[data-aspect=${most.aspect}]`).click();
  return most;
}

const summary = (values) => {
  const sorted = [...values].sort((one, other) => one - other);
  const at = (share) => sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))] ?? 0;
  return { n: sorted.length, median: at(0.5), most: at(0.95), worst: sorted.at(-1) ?? 0 };
};

const told = (name, values) => {
  const { n, median, most, worst } = summary(values);
  const ms = (value) => `${value.toFixed(1).padStart(6)} ms`;
  console.log(`  ${name.padEnd(36)} median ${ms(median)}   95 % ${ms(most)}   worst ${ms(worst)}   (${n})`);
  return worst;
};

/** Intervals of frames, and the longest tasks of the page's own thread, while something is done. */
async function framesOf(page, browser, act) {
  const trace = await traced(page, browser, async () => {
    await page.evaluate(() => {
      window.frames_ = [];
      window.counting_ = true;
      const count = (now) => {
        window.frames_.push(now);
        if (window.counting_) requestAnimationFrame(count);
      };
      requestAnimationFrame(count);
    });
    await act();
  });
  const frames = await page.evaluate(() => {
    window.counting_ = false;
    return window.frames_;
  });
  const thread = ({ pid, tid }) => `${pid}/${tid}`;
  const main = new Set(trace.filter(({ name, args }) => name === 'thread_name' && args.name === 'CrRendererMain').map(thread));
  // Processor time, where the trace has it: how long the thread waited for others says nothing of the page.
  const tasks = trace
    .filter((event) => TASKS.has(event.name) && main.has(thread(event)) && event.dur)
    .map(({ dur, tdur = dur }) => tdur / 1000);
  await keepTrace(trace);
  return { intervals: frames.slice(1).map((now, index) => now - frames[index]), tasks: tasks.filter((ms) => ms > 1) };
}

let traces = 0;

/** Keeps a trace to be looked at, as FOLDER/1.json and so on, in the order of what is measured. */
async function keepTrace(trace) {
  const folder = process.env.POTHOOK_TRACE;
  if (!folder) return;
  await mkdir(folder, { recursive: true });
  await writeFile(join(folder, `${(traces += 1)}.json`), JSON.stringify(trace));
}

async function traced(page, browser, act) {
  const session = await browser.newBrowserCDPSession();
  const events = [];
  session.on('Tracing.dataCollected', ({ value }) => events.push(...value));
  const complete = new Promise((done) => session.once('Tracing.tracingComplete', done));
  await session.send('Tracing.start', { traceConfig: { includedCategories: ['toplevel', 'devtools.timeline', 'disabled-by-default-devtools.timeline', '__metadata'] } });
  await act();
  await session.send('Tracing.end');
  await complete;
  await session.detach();
  return events;
}

const pause = (ms) => new Promise((done) => setTimeout(done, ms));

/** Runs `act(0 … n−1)` about sixty times a second. */
async function steadily(n, act) {
  for (let at = 0; at < n; at += 1) {
    const started = performance.now();
    await act(at);
    await pause(Math.max(0, 16 - (performance.now() - started)));
  }
}

async function moving(page, browser) {
  const box = await page.locator('[data-stage]').boundingBox();
  const middle = { x: box.x + box.width / 2, y: box.y + box.height / 2 };
  const wheel = (x, y) => page.mouse.wheel(x, y);
  await page.mouse.move(middle.x, middle.y);
  // Once unmeasured: what is done for the first time is no frame of a page that moves.
  await wheel(0, 30);
  await wheel(0, -30);
  await pause(800);
  const worst = [];
  const gestures = {
    'wheel, up and down': () => steadily(60, (at) => wheel(0, at < 30 ? 30 : -30)),
    'wheel with Ctrl, in and out': async () => {
      await page.keyboard.down('Control');
      await steadily(60, (at) => wheel(0, at < 30 ? -20 : 20));
      await page.keyboard.up('Control');
    },
    'drag with the mouse': async () => {
      await page.mouse.down();
      await steadily(60, (at) => page.mouse.move(middle.x + Math.sin(at / 6) * 150, middle.y - at * 3));
      await page.mouse.up();
    },
    'keys + and −': () => steadily(12, (at) => page.keyboard.press(at < 6 ? '+' : '-')),
  };
  for (const [name, act] of Object.entries(gestures)) {
    const { intervals, tasks } = await framesOf(page, browser, async () => {
      await act();
      // What is drawn once the page rests belongs to it.
      await pause(400);
    });
    worst.push(told(`frames: ${name}`, intervals));
    told(`  tasks of the page's thread`, tasks);
  }
  return Math.max(...worst);
}

/** From the pointer's own time stamp to the end of the frame in which its ink is drawn. */
async function inking(page, tool) {
  await page.keyboard.press({ pen: 'p', box: 'b' }[tool]);
  await page.waitForTimeout(300);
  await page.evaluate(() => {
    window.inked_ = [];
    const channel = new MessageChannel();
    let waiting = [];
    channel.port1.onmessage = () => {
      const now = performance.now();
      for (const stamp of waiting) window.inked_.push(now - stamp);
      waiting = [];
    };
    window.heard_ = (event) => {
      waiting.push(event.timeStamp);
      // The message comes after the frame's own work is done and handed on to be shown.
      requestAnimationFrame(() => channel.port2.postMessage(null));
    };
    window.addEventListener('pointermove', window.heard_);
  });
  const box = await page.locator('[data-stage]').boundingBox();
  await page.mouse.move(box.x + 60, box.y + box.height / 2);
  await page.mouse.down();
  await steadily(120, (at) => page.mouse.move(box.x + 60 + at * 5, box.y + box.height / 2 + Math.sin(at / 5) * 60));
  const drawn = await page.evaluate(() => {
    const canvas = document.querySelector('[data-stage] canvas');
    if (!canvas) return null;
    return canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height).data.some((value) => value > 0);
  });
  if (tool === 'pen' && drawn !== true) throw new Error('there is no ink under the pen');
  await page.mouse.up();
  const times = await page.evaluate(() => {
    window.removeEventListener('pointermove', window.heard_);
    return window.inked_;
  });
  await page.getByRole('button', { name: 'Cancel' }).click();
  return told(`pointer to ink: ${tool}`, times);
}

const folder = await temporaryFolder();
const served = await serve(program, folder.path);
const browser = await chromium.launch({
  executablePath: process.env.POTHOOK_CHROMIUM || '/usr/bin/chromium',
  args: ['--no-sandbox', '--disable-gpu', '--disable-dev-shm-usage'],
});
let worst = 0;
try {
  const context = await browser.newContext({ viewport: { width: 1366, height: 768 }, locale: 'en-GB' });
  context.setDefaultTimeout(60_000);
  const page = await context.newPage();
  await prepared(page, served.address);
  const { aspect, shapes } = await fullest(page);
  const size = await page.locator('[data-sheet] img').evaluate((image) => [image.naturalWidth, image.naturalHeight]);
  console.log(`A page of ${((size[0] * size[1]) / 1e6).toFixed(1)} megapixels, ${shapes} shapes for ${aspect}`);
  const slower = await context.newCDPSession(page);
  for (const rate of [1, 4]) {
    await slower.send('Emulation.setCPUThrottlingRate', { rate });
    console.log(rate === 1 ? 'As it is:' : `Processor slowed down ${rate} times:`);
    const most = Math.max(await moving(page, browser), await inking(page, 'pen'), await inking(page, 'box'));
    if (rate === 1) worst = most;
  }
} finally {
  await browser.close();
  await served.stop();
  await folder.remove();
}
if (process.env.POTHOOK_STRICT && worst > LIMIT_MS) {
  console.log(`The worst is over ${LIMIT_MS} ms.`);
  process.exitCode = 1;
}
