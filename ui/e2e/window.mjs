// A shorter story in the real window, on one device: a tutor with one pupil and one page.
import { spawn } from 'node:child_process';
import { mkdir, writeFile } from 'node:fs/promises';
import { createServer } from 'node:net';
import { join } from 'node:path';
import { remote } from 'webdriverio';
import { temporaryFolder, testPages } from './lib/program.mjs';
import { expect, needed, tell } from './lib/steps.mjs';

const application = needed('POTHOOK_DESKTOP_BIN');
const driverProgram = needed('POTHOOK_TAURI_DRIVER');
const pages = await testPages(needed('POTHOOK_PAGES'));
const sample = pages.find((page) => page.ruling === 'lines' && page.page_format === 'A4');
const PATIENCE = 30_000;

/** A port that is free now. */
function freePort() {
  return new Promise((found, lost) => {
    const server = createServer();
    server.once('error', lost);
    server.listen(0, '127.0.0.1', () => {
      const { port } = server.address();
      server.close(() => found(port));
    });
  });
}

async function startDriver() {
  const [port, nativePort] = [await freePort(), await freePort()];
  const child = spawn(driverProgram, ['--port', String(port), '--native-port', String(nativePort)], {
    stdio: ['ignore', 'ignore', 'inherit'],
  });
  const ended = new Promise((done) => child.once('exit', done));
  const stop = async () => {
    child.kill('SIGTERM');
    await ended;
  };
  for (let tries = 0; tries < 100; tries += 1) {
    const ready = await fetch(`http://127.0.0.1:${port}/status`).then(
      () => true,
      () => false,
    );
    if (ready) return { port, stop };
    await new Promise((done) => setTimeout(done, 100));
  }
  await stop();
  throw new Error('the driver does not answer');
}

/** A window on a data folder. */
function openWindow(port, data) {
  return remote({
    hostname: '127.0.0.1',
    port,
    logLevel: 'error',
    connectionRetryCount: 1,
    waitforTimeout: PATIENCE,
    capabilities: {
      'wdio:enforceWebDriverClassic': true,
      'tauri:options': { application, args: ['--data', data] },
    },
  });
}

/** The window opened anew; a window that is still closing holds the data folder a moment longer. */
async function reopened(port, data) {
  for (let tries = 0; ; tries += 1) {
    const window = await openWindow(port, data);
    const either = await window.$('//h1 | //*[@role="alert"]');
    await either.waitForDisplayed({ timeout: PATIENCE });
    if ((await either.getTagName()) === 'h1' || tries === 5) return window;
    await new Hand(window).picture('refused');
    await window.deleteSession();
    await new Promise((done) => setTimeout(done, 1000));
  }
}

/** Presses, chooses and reads in the window as a person would, by visible texts. */
class Hand {
  constructor(window) {
    this.window = window;
  }

  async seen(selector) {
    const element = await this.window.$(selector);
    await element.waitForDisplayed({ timeout: PATIENCE });
    return element;
  }

  heading(text) {
    return this.seen(`//h1[normalize-space()=${quoted(text)}]`);
  }

  async press(text) {
    const element = await this.seen(`//*[self::button or self::a][normalize-space()=${quoted(text)}]`);
    await element.scrollIntoView({ block: 'center' });
    await element.click();
  }

  async choose(text) {
    const label = await this.seen(`//label[contains(normalize-space(), ${quoted(text)})]`);
    await label.scrollIntoView({ block: 'center' });
    await label.click();
  }

  async write(label, text) {
    const named = await this.seen(`//label[contains(normalize-space(), ${quoted(label)})]`);
    const field = await this.window.$(`#${await named.getAttribute('for')}`);
    await field.scrollIntoView({ block: 'center' });
    await field.setValue(text);
  }

  count(selector) {
    return this.window.execute((css) => document.querySelectorAll(css).length, selector);
  }

  async until(selector, wanted, sentence) {
    await this.window.waitUntil(async () => (await this.count(selector)) >= wanted, {
      timeout: PATIENCE,
      timeoutMsg: sentence,
    });
  }

  async picture(name) {
    const folder = process.env.POTHOOK_SCREENS;
    if (!folder) return;
    // The driver takes what was painted last, and under a virtual display that lags.
    await this.window.pause(1500);
    await mkdir(folder, { recursive: true });
    await writeFile(join(folder, `window-${name}.png`), Buffer.from(await this.window.takeScreenshot(), 'base64'));
  }
}

const quoted = (text) => `"${text}"`;

async function story(step, port, data) {
  let window = await step('the window opens on an empty data folder', async () => {
    const opened = await openWindow(port, data);
    await new Hand(opened).heading('Welcome to Pothook');
    return opened;
  });
  try {
    await work(step, new Hand(window));
    window = await step('closed and opened again, everything is still there', async () => {
      await window.deleteSession();
      const again = await reopened(port, data);
      const hand = new Hand(again);
      await hand.heading('Today');
      await hand.press('Ada');
      await hand.until('img[src*="blob"]', 1, 'the page is not in the list');
      return again;
    });
  } finally {
    // A window that is gone already needs no closing.
    await window.deleteSession().catch(() => undefined);
  }
}

async function work(step, hand) {
  await step('the tutor settles and adds a pupil', async () => {
    await hand.choose('I am the tutor');
    await hand.write('Your name', 'Ms Wren');
    await hand.press('Begin');
    await hand.heading('Today');
    await hand.press('Add a pupil');
    await hand.write('First name or initials', 'Ada');
    await hand.choose('Unjoined');
    await hand.press('Add');
    await hand.heading('Ada');
  });

  await step('the tutor sets a task', async () => {
    await hand.press('Set the task');
    // The driver drops line feeds; the enter key (WebDriver, table of normalised keys) makes them.
    await hand.write('The text to write', sample.text.join('\uE007'));
    await hand.press('Set the task');
    await hand.until('blockquote p', sample.text.length, 'the task is not shown line by line');
  });

  await step('a photograph goes through the file input and is kept', async () => {
    await hand.press('Add a page');
    const input = await hand.window.$('input[name=picture]');
    await input.waitForExist({ timeout: PATIENCE });
    // A file input can't be emptied by the driver, only filled.
    await input.addValue(sample.path);
    await hand.seen('//h3[normalize-space()="This page can be read."]');
    await hand.picture('staged');
    await hand.press('Keep this page');
    await hand.seen('//button[normalize-space()="Mark as looked at"]');
  });

  await step('the picture is drawn, with measures and an overlay', async () => {
    const drawn = () => {
      const image = document.querySelector('[data-sheet] img');
      return image?.complete === true && image.naturalWidth > 100;
    };
    await hand.window.waitUntil(() => hand.window.execute(drawn), { timeout: PATIENCE, timeoutMsg: 'no picture' });
    const overlay = await hand.seen('[data-aspect=baseline]');
    await overlay.scrollIntoView({ block: 'center' });
    await overlay.click();
    await hand.until('[data-overlay] polyline', 2, 'no overlay is drawn');
    const values = await hand.window.execute(() =>
      [...document.querySelectorAll('.figure .value')].filter((one) => one.textContent.includes('±')).length,
    );
    expect(values >= 8, `only ${values} figures were measured`);
    await hand.picture('desk');
  });

  await step('a box with a sentence is put on the page', async () => {
    await hand.press('Box');
    await hand.write('Your sentence', 'These two words run together.');
    await hand.press('Put the mark');
    await hand.until('[data-mark=box]', 1, 'the box is not on the page');
    await hand.press('Mark as looked at');
    await hand.seen('//p[starts-with(normalize-space(), "Looked at on")]');
  });

  await step('progress shows the page’s figures', async () => {
    await hand.press('Ada');
    await hand.heading('Ada');
    await hand.until('[data-chart]', 2, 'there is no chart');
    await hand.picture('pupil');
  });
}

const folder = await temporaryFolder();
const driver = await startDriver();
try {
  await tell((step) => story(step, driver.port, folder.path));
} finally {
  await driver.stop();
  await folder.remove();
}
