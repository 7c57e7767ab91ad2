// A phone without the program, from the code to the kept page: the browser gets an address of this machine over
// plain HTTP, as it would at home.
import { execFile, spawn } from 'node:child_process';
import { readFile } from 'node:fs/promises';
import { networkInterfaces } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { promisify } from 'node:util';
import { chromium } from 'playwright-core';
import { foreignTexts, picture, screenHolds } from './lib/checks.mjs';
import { serve, temporaryFolder, testPages } from './lib/program.mjs';
import { expect, needed, tell } from './lib/steps.mjs';

const program = needed('POTHOOK_BIN');
const folder = needed('POTHOOK_PAGES');
const drawn = (await testPages(folder)).find((page) => page.id === 'a4-lines8-even');
const TRY = 'Leave room for one letter o before each new word.';
const run = promisify(execFile);
const hosts = new Set();

/** An address that the browser takes for somebody else's, so that nothing is allowed here that is not at home. */
function address() {
  const all = Object.values(networkInterfaces()).flat();
  return all.find(({ family, internal }) => family === 'IPv4' && !internal)?.address ?? '127.0.0.1';
}

/** The program offering its page to a phone. */
async function offer(data) {
  const child = spawn(program, ['--data', data, 'phone', 'Nell', '--address', address()], {
    stdio: ['ignore', 'pipe', 'inherit'],
  });
  const ended = new Promise((done) => child.once('exit', done));
  const lines = [];
  const url = await new Promise((found, lost) => {
    child.once('error', lost);
    void ended.then((code) => lost(new Error(`the program ended with ${code} before it gave an address`)));
    createInterface({ input: child.stdout }).on('line', (line) => {
      lines.push(line);
      if (/^http:\/\/\S+\/#[\w-]{43}$/.test(line)) found(line);
    });
  });
  return { url, lines, stop: () => (child.kill('SIGINT'), ended) };
}

async function phone(browser, url) {
  const context = await browser.newContext({
    viewport: { width: 390, height: 844 },
    hasTouch: true,
    isMobile: true,
    reducedMotion: 'reduce',
    locale: 'en-GB',
  });
  context.setDefaultTimeout(30_000);
  context.on('request', (request) => {
    if (!request.url().startsWith('blob:')) hosts.add(new URL(request.url()).host);
  });
  const page = await context.newPage();
  page.errors = [];
  page.on('pageerror', (error) => page.errors.push(error.message));
  page.on('console', (message) => {
    if (message.type() === 'error') page.errors.push(message.text());
  });
  await page.goto(url);
  return page;
}

/** The same page so small that letters have too few pixels. */
async function squeezed(browser) {
  const page = await browser.newPage();
  const picture = `data:image/jpeg;base64,${(await readFile(drawn.path)).toString('base64')}`;
  const small = await page.evaluate(async (address) => {
    const image = new Image();
    image.src = address;
    await image.decode();
    const canvas = document.createElement('canvas');
    canvas.width = 560;
    canvas.height = Math.round((560 * image.height) / image.width);
    canvas.getContext('2d').drawImage(image, 0, 0, canvas.width, canvas.height);
    return canvas.toDataURL('image/jpeg', 0.9).split(',')[1];
  }, picture);
  await page.close();
  return { name: 'small.jpg', mimeType: 'image/jpeg', buffer: Buffer.from(small, 'base64') };
}

const heading = (page, name) => page.getByRole('heading', { name, exact: true, level: 1 });
const button = (page, name) => page.getByRole('button', { name, exact: true });
/** Chooses the task to copy a text, and sees all of it. */
async function copied(page) {
  await page.getByRole('radio', { name: drawn.text[0] }).check();
  await page.locator('blockquote').getByText(drawn.text.at(-1)).waitFor();
}
const choose = (page, file) => page.locator('input[name=picture]').setInputFiles(file);
const looks = (page) => page.evaluate(() => document.dispatchEvent(new Event('visibilitychange')));

async function story(step, browser, data) {
  const pothook = (...args) => run(program, ['--data', data, ...args]);
  await step('a tutor’s laptop has a pupil with two tasks and a focus', async () => {
    await pothook('settle', 'tutor', 'Ms Wren');
    await pothook('add-pupil', 'Nell', '--year', '3', '--hand', 'right');
    await pothook('task', 'Nell', '--kind', 'own-words');
    await pothook('task', 'Nell', '--kind', 'copied', '--focus', 'gaps', ...drawn.text.flatMap((line) => ['--line', line]));
    await pothook('focus', 'Nell', 'gaps', '--try-this', TRY);
  });

  const open = await step('it shows a code, with what to mind', async () => {
    const open = await offer(data);
    const said = () => open.lines.join('\n');
    for (let tries = 0; tries < 50 && !said().includes('home Wi-Fi only'); tries += 1) await new Promise((done) => setTimeout(done, 100));
    expect(said().includes('home Wi-Fi only'), said());
    expect(open.lines.filter((line) => /^[█▀▄ ]{20,}$/.test(line)).length > 15, 'there is no picture of characters');
    return open;
  });
  try {
    await visited(step, browser, open);
  } finally {
    await open.stop();
  }

  await step('what happened was said there, and the page is in the book', async () => {
    const said = open.lines.join('\n');
    for (const sentence of ['A phone has opened the page.', 'Pages that have come in: 1.', 'was turned away']) {
      expect(said.includes(sentence), `“${sentence}” is missing: ${said}`);
    }
    const { stdout } = await pothook('pages', 'Nell');
    expect(stdout.trim().split('\n').length === 2, stdout);
  });

  await byScreen(step, browser, data);
}

async function visited(step, browser, open) {
  const host = new URL(open.url).host;
  const page = await phone(browser, open.url);
  await step('the phone opens it: the code leaves the address bar, and the task is there', async () => {
    await heading(page, 'Photograph the page').waitFor();
    expect(page.url() === `http://${host}/`, `the address still is ${page.url()}`);
    await copied(page);
    await page.getByText(TRY).waitFor();
    await page.getByText('On home Wi-Fi only').waitFor();
    const secure = await page.evaluate(() => window.isSecureContext && 'subtle' in crypto);
    expect(!secure || host.startsWith('127.'), 'this browser has cryptography here that a phone has not');
    await screenHolds(page, 'phone-ready');
  });

  await step('a page that cannot be read is to be taken again, and the reasons are said', async () => {
    await choose(page, await squeezed(browser));
    await heading(page, 'This page will be hard to read.').waitFor();
    expect((await page.locator('main ul li').count()) > 0, 'no reason is given');
    await page.getByRole('img', { name: 'The page as the program sees it' }).waitFor();
    await button(page, 'Keep it anyway').waitFor();
    await screenHolds(page, 'phone-retake');
  });

  await step('a picture of a kind that cannot be read is told apart', async () => {
    await choose(page, join(folder, '../bad/phone.heic'));
    await page.getByText('This is a HEIC picture, which this program cannot read.').waitFor();
  });

  await step('a photograph outlives a lost connection', async () => {
    await page.context().setOffline(true);
    await choose(page, drawn.path);
    await page.getByText('The computer does not answer. The photograph is not lost.').waitFor();
    await screenHolds(page, 'phone-lost');
    await page.context().setOffline(false);
    await button(page, 'Try again').click();
    await heading(page, 'This page can be read.').waitFor();
    page.errors = page.errors.filter((error) => !error.includes('ERR_INTERNET_DISCONNECTED'));
    await screenHolds(page, 'phone-fit');
  });

  await step('a page that the phone has thrown out of memory goes on', async () => {
    await page.reload();
    await heading(page, 'Photograph the page').waitFor();
  });

  await step('how much of a photograph is sent is shown as it goes', async () => {
    const wire = await page.context().newCDPSession(page);
    const slow = (uploadThroughput) =>
      wire.send('Network.emulateNetworkConditions', { offline: false, latency: 0, downloadThroughput: -1, uploadThroughput });
    await slow(120_000);
    await copied(page);
    await choose(page, drawn.path);
    await page.getByText(/^Sending the photograph: [1-9]\d* %$/).waitFor();
    await picture(page, 'phone-sending');
    await slow(-1);
    await heading(page, 'This page can be read.').waitFor();
  });

  await step('the page is kept, and what it shows is said in plain words', async () => {
    await button(page, 'Keep this page').click();
    await heading(page, /^Page of /).waitFor({ timeout: 120_000 });
    await page.getByText('Even spaces: too early to say, a few more pages will tell.').waitFor();
    await page.getByText('The eight things looked at').click();
    await page.getByText(/letters stand on the printed line\.$/).waitFor();
    await page.getByText('Figures: Baseline').click();
    await page.locator('[data-figure]').first().waitFor();
    expect((await page.locator('[data-figure]').count()) > 5, 'the figures are missing');
    await screenHolds(page, 'phone-result');
  });

  await step('another page can follow, and the task is known to be answered', async () => {
    await button(page, 'Photograph another page').click();
    await copied(page);
    await page.getByText('You have photographed a page for this task. Thank you.').waitFor();
  });

  await step('a second phone is refused, and the first is told', async () => {
    const other = await phone(browser, open.url);
    await heading(other, 'This code has been used').waitFor();
    expect((await other.getByText('Nell').count()) === 0, 'the second phone sees a name');
    await screenHolds(other, 'phone-used');
    await looks(page);
    await page.getByRole('alert').getByText('Another phone has tried to use your code').waitFor();
    expect(other.errors.length === 0, other.errors.join('\n'));
    await other.context().close();
  });

  await step('who comes without a code is told how', async () => {
    const other = await phone(browser, `http://${host}/`);
    await heading(other, 'Open this page by the code').waitFor();
    await other.context().close();
  });

  await step('every text comes from the catalogue', async () => {
    await page.evaluate(() => localStorage.setItem('language', 'pseudo'));
    await page.reload();
    await page.getByRole('radio', { name: drawn.text[0] }).check();
    const foreign = await foreignTexts(page, [...drawn.text, TRY]);
    expect(foreign.length === 0, foreign.join(' | '));
  });

  await step('nothing was asked of anybody else, and nothing went wrong unseen', async () => {
    hosts.delete('');
    expect([...hosts].join() === host, `asked: ${[...hosts].join(', ')}`);
    const { cookies } = await page.context().storageState();
    expect(cookies.length === 0, 'there are cookies');
    expect(page.errors.length === 0, page.errors.join('\n'));
  });

  await step('when its time is up it says so, and keeps nothing', async () => {
    await page.evaluate(() => localStorage.removeItem('language'));
    const kept = await page.evaluate(() => sessionStorage.getItem('visit'));
    await page.route('**/sealed', (route) => route.fulfill({ status: 410 }));
    await page.reload();
    await heading(page, 'The time is up').waitFor();
    await screenHolds(page, 'phone-expired');
    expect((await page.evaluate(() => sessionStorage.length)) === 0, 'the key is still in the browser');
    await page.unroute('**/sealed');
    await page.evaluate((kept) => sessionStorage.setItem('visit', kept), kept);
  });

  await step('the page notices when it is stopped', async () => {
    await page.reload();
    await heading(page, 'Photograph the page').waitFor();
    await open.stop();
    await looks(page);
    await page.getByText('The computer does not answer.').waitFor();
    await page.context().close();
  });
}

/** The same, opened and closed by the local screens. */
async function byScreen(step, browser, data) {
  const served = await serve(program, data);
  try {
    await step('the local screens can open it, ask how it stands, and end it', async () => {
      const page = await browser.newPage();
      await page.goto(served.address);
      await heading(page, 'Today').waitFor();
      const asked = (method, body) =>
        page.evaluate(
          async ([method, body]) => {
            const headers = { 'content-type': 'application/json' };
            const response = await fetch('/phone', { method, body, headers });
            return { status: response.status, told: await response.json() };
          },
          [method, body && JSON.stringify(body)],
        );
      const call = await page.evaluate(async () => {
        const headers = { 'content-type': 'application/json' };
        return (await fetch('/call/pupils', { method: 'POST', headers, body: '{}' })).json();
      });
      const { pupil } = call.pupils[0];
      expect((await asked('GET')).told.open === null, 'it is open though nobody opened it');
      const { told } = await asked('POST', { pupil, address: address() });
      expect(told.open.stage === 'waiting' && told.open.qrSvg.includes('<svg'), JSON.stringify(told));
      const visitor = await phone(browser, told.open.url);
      await heading(visitor, 'Photograph the page').waitFor();
      expect((await asked('GET')).told.open.stage === 'inUse', 'the screen is not told of the phone');
      expect((await asked('DELETE')).told.open === null, 'it is still open');
      await looks(visitor);
      await visitor.getByText('The computer does not answer.').waitFor();
      await visitor.context().close();
      const refused = await asked('POST', { pupil, address: '0.0.0.0' });
      expect(refused.status === 422 && refused.told.code === 'not-one-address', JSON.stringify(refused));
      expect((await asked('POST', { pupil, address: 'here' })).told.code === 'bad-input', 'no address was taken');
      await page.close();
    });
    await step('nobody else can', async () => {
      const response = await fetch(new URL('/phone', served.address));
      expect(response.status === 401, `answered with ${response.status}`);
    });
  } finally {
    await served.stop();
  }
}

const data = await temporaryFolder();
const browser = await chromium.launch({
  executablePath: process.env.POTHOOK_CHROMIUM || '/usr/bin/chromium',
  args: ['--no-sandbox', '--disable-gpu', '--disable-dev-shm-usage'],
});
try {
  await tell((step) => story(step, browser, data.path));
} finally {
  await browser.close();
  await data.remove();
}
