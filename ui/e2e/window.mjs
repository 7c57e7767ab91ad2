// A shorter story in the real window, on one device: a tutor with one pupil and one page. Then a second one, on a system
// that has no keyring, about a folder that a passphrase opens. Then two windows of two devices that meet.
import { Hand, openWindow, PATIENCE, reopened, startDriver } from './lib/hand.mjs';
import { temporaryFolder, testPages } from './lib/program.mjs';
import { expect, needed, tell } from './lib/steps.mjs';
import { meeting } from './stories/meeting.mjs';

const pages = await testPages(needed('POTHOOK_PAGES'));
const sample = pages.find((page) => page.ruling === 'lines' && page.page_format === 'A4');

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
      await hand.until('img[src*="thumb"]', 1, 'the page is not in the list');
      return again;
    });
  } finally {
    // A window that is gone already needs no closing.
    await window.deleteSession().catch(() => undefined);
  }
}

async function work(step, hand) {
  await step('the tutor settles and adds a pupil', async () => {
    await hand.press('Skip to setting up');
    await hand.choose('I am the tutor');
    await hand.write('Your name', 'Ms Wren');
    await hand.press('Begin');
    await hand.heading('All set, Ms Wren');
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
    await hand.send('Set the task');
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
    await hand.until('[data-sheet] [data-overlay] path', 2, 'no overlay is drawn');
    const values = await hand.window.execute(() =>
      [...document.querySelectorAll('.figure .value')].filter((one) => one.textContent.includes('±')).length,
    );
    expect(values >= 3, `only ${values} figures were measured`);
    await hand.picture('desk');
  });

  await step('a box with a sentence is put on the page', async () => {
    await hand.press('Box');
    await hand.write('Your sentence', 'These two words run together.');
    await hand.press('Put as “to work on”');
    await hand.until('[data-mark=box]', 1, 'the box is not on the page');
    await hand.press('Mark as looked at');
    await hand.seen('//p[starts-with(normalize-space(), "Looked at on")]');
  });

  await step('progress shows the page’s figures', async () => {
    await hand.press('Back to Ada');
    await hand.heading('Ada');
    await hand.until('[data-chart]', 2, 'there is no chart');
    await hand.picture('pupil');
  });

  await step('what cannot be undone is asked about first', async () => {
    const fold = await hand.seen('//summary[normalize-space()="Keeping and letting go"]');
    await fold.scrollIntoView({ block: 'center' });
    await fold.click();
    await hand.press('Erase this pupil');
    await hand.seen('//dialog//h2[normalize-space()="Erase Ada?"]');
    await hand.picture('erase');
    await hand.answer('Cancel');
    await hand.window.waitUntil(async () => (await hand.count('dialog[open]')) === 0, { timeout: PATIENCE });
    await hand.heading('Ada');
  });

  await step('the settings say who opens the data', async () => {
    await hand.press('Settings');
    await hand.heading('Settings');
    await hand.until('[data-opened-by=keyFile]', 1, 'the data is not opened by the key file');
  });
}

/** What a person sees whose system has no keyring. */
async function lockedStory(step, port, data) {
  const passphrase = 'four unusual garden words';
  let window = await step('without a keyring a passphrase is chosen, and the folder opens', async () => {
    const opened = await openWindow(port, data);
    const hand = new Hand(opened);
    await hand.heading('Choose a passphrase');
    await hand.picture('choose');
    await hand.write('Passphrase', passphrase);
    await hand.write('The same passphrase again', passphrase);
    await hand.press('Keep my data under this passphrase');
    await hand.heading('Welcome to Pothook');
    return opened;
  });
  try {
    window = await step('opened again, the folder asks for it, and for the right one', async () => {
      await window.deleteSession();
      const again = await reopened(port, data);
      const hand = new Hand(again);
      await hand.heading('Open your data');
      await hand.write('Passphrase', 'four usual garden words');
      await hand.press('Open');
      await hand.seen('//*[@role="alert"]');
      await hand.picture('locked');
      await hand.write('Passphrase', passphrase);
      await hand.press('Open');
      await hand.heading('Welcome to Pothook');
      return again;
    });
  } finally {
    await window.deleteSession().catch(() => undefined);
  }
}

/** No key file, and no bus on which a keyring could answer: nobody's own keyring is touched. */
function withoutKeys() {
  const { POTHOOK_KEY_FILE: _, ...rest } = process.env;
  return { ...rest, DBUS_SESSION_BUS_ADDRESS: 'unix:path=/nonexistent' };
}

const folders = await Promise.all(Array.from({ length: 4 }, temporaryFolder));
const [folder, lockedFolder, ...meetingFolders] = folders.map(({ path }) => path);
const [driver, keyless, second] = [await startDriver(), await startDriver(withoutKeys()), await startDriver()];
try {
  await tell(async (step) => {
    await story(step, driver.port, folder);
    await lockedStory(step, keyless.port, lockedFolder);
    await meeting(step, [driver.port, second.port], meetingFolders, sample);
  });
} finally {
  await Promise.all([driver, keyless, second].map((one) => one.stop()));
  await Promise.all(folders.map((one) => one.remove()));
}
