import { screenHolds } from './checks.mjs';
import { Person } from './people.mjs';
import { expect } from './steps.mjs';

const OVERVIEW = {
  device: null, network: false, relay: null, addresses: [], openedBy: 'passphrase', paperKey: null, version: '0',
};

/**
 * Stands for the program around a window, where a story needs what a real one does too quickly or only on another
 * system. Runs in the page, before its own scripts. Without a `code` the data is open.
 */
function standIn({ answers, code = null, passphrase = null }) {
  let open = code === null;
  const problem = (code, message) => ({ code, message, whatToDo: 'What to do now.' });
  window.__TAURI_INTERNALS__ = {
    transformCallback(hear) {
      window.tell = (payload) => hear({ payload });
      return 1;
    },
    async invoke(command, { verb, passphrase: typed } = {}) {
      if (command === 'plugin:event|listen') return 1;
      if (command === 'unlock') {
        if (typed !== passphrase) throw problem('wrong-passphrase', 'This does not open it.');
        open = true;
        return null;
      }
      if (!open) throw problem(code, 'The data of this device is closed.');
      (window.asked ??= []).push(verb);
      // What has no answer is still under way.
      return answers[verb] ?? new Promise(() => undefined);
    },
  };
}

/** What a window asks where its data is closed. */
export async function locked(step, newPage) {
  const passphrase = 'four unusual garden words';

  await step('closed data asks for its passphrase, until it is the right one', async () => {
    const page = await newPage((context) =>
      context.addInitScript(standIn, { answers: { overview: OVERVIEW }, code: 'passphrase-needed', passphrase }),
    );
    await page.getByRole('heading', { name: 'Open your data' }).waitFor();
    const field = page.getByLabel('Passphrase', { exact: true });
    const open = page.getByRole('button', { name: 'Open', exact: true });
    expect(await open.isDisabled(), 'nothing can be opened with nothing');
    await field.fill('four usual garden words');
    await field.press('Enter');
    await page.getByRole('alert').getByText('This does not open it.').waitFor();
    await page.getByText('Show what I type').click();
    expect((await field.getAttribute('type')) === 'text', 'what is typed is not shown');
    await screenHolds(page, 'locked');
    await field.fill(passphrase);
    await open.click();
    await page.getByRole('heading', { name: 'Welcome to Pothook' }).waitFor();
    await page.context().close();
  });

  await step('where nothing holds the key a passphrase is chosen, twice', async () => {
    const page = await newPage((context) =>
      context.addInitScript(standIn, { answers: { overview: OVERVIEW }, code: 'no-keyring', passphrase }),
    );
    await page.getByRole('heading', { name: 'Choose a passphrase' }).waitFor();
    const keep = page.getByRole('button', { name: 'Keep my data under this passphrase' });
    await page.getByLabel('Passphrase', { exact: true }).fill(passphrase);
    await page.getByLabel('The same passphrase again').fill('four usual');
    await page.getByText('The two are not the same.').waitFor();
    expect(await keep.isDisabled(), 'it is taken though the two differ');
    await screenHolds(page, 'locked-choose');
    await page.getByLabel('The same passphrase again').fill(passphrase);
    await keep.click();
    await page.getByRole('heading', { name: 'Welcome to Pothook' }).waitFor();
    await page.context().close();
  });
}

/** What is shown while two devices meet that have much for each other, and what may have happened meanwhile. */
export async function meanwhile(step, newPage) {
  const [own, other, pupil] = ['11', '22', '33'].map((pair) => pair.repeat(32));
  const row = { device: other, name: '', role: 'tutor', pupils: [], lastMet: null, addresses: [], removed: false };
  const notice = (notice) => ({ at: Date.UTC(2026, 2, 4), notice });
  const answers = {
    overview: { ...OVERVIEW, device: { id: own, role: 'parent', name: 'Jo' } },
    pupils: { pupils: [] },
    devices: { devices: [row] },
    stop_exchange: {},
    pairing: { stage: 'idle' },
    notices: {
      notices: [
        notice({ notice: 'refused', from: other, author: own, changes: 2 }),
        notice({ notice: 'lateEditsDropped', pupil, edits: 1 }),
      ],
    },
  };

  await step('what is dropped or refused is told on the first screen', async () => {
    const page = await newPage((context) => context.addInitScript(standIn, { answers }));
    await page.getByText(/^4 March 2026: 2 changes that a device without a name brought in the name of this device/).waitFor();
    await page.getByText(/^4 March 2026: 1 change about a pupil came too late/).waitFor();
    await screenHolds(page, 'notices-refused');
    await page.context().close();
  });

  await step('while devices exchange it is told how much has come, and then no more', async () => {
    const page = await newPage((context) => context.addInitScript(standIn, { answers }));
    await new Person(page).menu('Devices');
    const exchange = page.getByRole('button', { name: 'Exchange now' });
    await exchange.click();
    expect(await exchange.evaluate((one) => one === document.activeElement), 'the button has lost the focus');
    const moving = page.locator('[data-moving]');
    const said = async (received, toReceive) => {
      await page.evaluate((event) => window.tell(event), { event: 'moving', device: other, received, toReceive, sent: 20_000 });
      await moving.waitFor();
      return moving.innerText();
    };
    const name = 'A device without a name';
    const [unknown, known] = [await said(0, null), await said(1_240_000, 3_900_000)];
    expect(unknown.trim() === `${name}: 0 kB received, 20 kB sent so far.`, unknown);
    expect(known.trim() === `${name}: 1.2 MB of about 3.9 MB received, 20 kB sent so far.`, known);
    await screenHolds(page, 'moving');
    await page.getByRole('button', { name: 'Stop the exchange' }).click();
    await page.waitForFunction(() => window.asked.includes('stop_exchange'));
    await page.evaluate((event) => window.tell(event), { event: 'met', device: other, ok: true });
    await moving.waitFor({ state: 'detached' });
    await page.context().close();
  });
}
