// The real window, driven by WebDriver.
import { spawn } from 'node:child_process';
import { mkdir, writeFile } from 'node:fs/promises';
import { createServer } from 'node:net';
import { join } from 'node:path';
import { remote } from 'webdriverio';
import { needed } from './steps.mjs';

const application = needed('POTHOOK_DESKTOP_BIN');
const driverProgram = needed('POTHOOK_TAURI_DRIVER');
export const PATIENCE = 30_000;

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

/** The driver hands its environment on to the window. */
export async function startDriver(env = process.env) {
  const [port, nativePort] = [await freePort(), await freePort()];
  const child = spawn(driverProgram, ['--port', String(port), '--native-port', String(nativePort)], {
    stdio: ['ignore', 'ignore', 'inherit'],
    env,
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
export function openWindow(port, data) {
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
export async function reopened(port, data) {
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
export class Hand {
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

  /** Presses the button of a form; a link elsewhere may have the same name. */
  async send(text) {
    const button = await this.seen(`//form//button[normalize-space()=${quoted(text)}]`);
    await button.scrollIntoView({ block: 'center' });
    await button.click();
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

  /** Presses what a dialog offers. */
  async answer(text) {
    const button = await this.seen(`//dialog//button[normalize-space()=${quoted(text)}]`);
    await button.click();
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
