// Two real windows of two devices that meet: a tutor's and a family's. They pair by a code that is carried across, a page
// goes over, marks come back, and both show one history.
import { Hand, openWindow, PATIENCE } from '../lib/hand.mjs';
import { expect } from '../lib/steps.mjs';

const SAID = 'Look how evenly the tails hang here.';
const SHOWN = 'Do both devices show these words?';

/** Goes somewhere by the main menu. */
async function menu(hand, name) {
  await hand.press(name);
  await hand.heading(name);
}

async function settled(hand, role, name) {
  await hand.heading('Welcome to Pothook');
  await hand.press('Skip to setting up');
  await hand.choose(role);
  await hand.write('Your name', name);
  await hand.press('Begin');
  await hand.heading(`All set, ${name}`);
}

/** The words that a device shows for comparing. */
async function compared(hand) {
  await hand.seen(`//h3[normalize-space()="${SHOWN}"]`);
  return (await hand.seen('[data-words]')).getAttribute('data-words');
}

async function exchanged(hand) {
  await hand.press('Exchange now');
  return (await hand.seen('[data-meetings] p')).getText();
}

/** Every chart with its verdict and the table behind it, as it stands on a screen with the history. */
async function history(hand) {
  const { window } = hand;
  const aspects = await window.$$('//fieldset[legend[normalize-space()="Which of the eight things looked at?"]]//label');
  const all = {};
  for (let at = 0; at < (await aspects.length); at += 1) {
    await aspects[at].scrollIntoView({ block: 'center' });
    await aspects[at].click();
    Object.assign(
      all,
      await window.execute(() =>
        Object.fromEntries(
          [...document.querySelectorAll('[data-chart]')].map((chart) => [
            chart.dataset.chart,
            [chart.querySelector('figcaption strong'), ...chart.querySelectorAll('tbody tr')].map((one) => one.textContent),
          ]),
        ),
      ),
    );
  }
  return all;
}

async function met(step, [tutor, family], page) {
  await step('the tutor settles and adds a pupil, the family settles', async () => {
    await settled(tutor, 'I am the tutor', 'Ms Wren');
    await tutor.press('Add a pupil');
    await tutor.write('First name or initials', 'Ada');
    await tutor.choose('Unjoined');
    await tutor.press('Add');
    await tutor.heading('Ada');
    await tutor.press('Set the task');
    // The driver drops line feeds; the enter key (WebDriver, table of normalised keys) makes them.
    await tutor.write('The text to write', page.text.join('\uE007'));
    await tutor.send('Set the task');
    await tutor.until('blockquote p', page.text.length, 'the task is not shown line by line');
    await settled(family, 'I am a parent', 'Jo');
  });

  await step('a code goes across, both windows show the same words, and are paired', async () => {
    await menu(tutor, 'Devices');
    await tutor.press('Show a pairing code');
    const code = await (await tutor.seen('textarea[readonly]')).getValue();
    await family.press('Pair with the tutor');
    await family.write('The tutor’s pairing code', code);
    await family.press('Connect');
    const [ours, theirs] = [await compared(tutor), await compared(family)];
    expect(ours.length > 0 && ours === theirs, `${ours} and ${theirs}`);
    await family.picture('compare');
    await tutor.press('Yes, the same');
    await family.press('Yes, the same');
    await tutor.seen('//*[normalize-space()="Paired with Jo."]');
    await family.seen('//*[normalize-space()="Paired with Ms Wren."]');
    await tutor.press('Done');
    await family.press('Done');
  });

  await step('the task has come to the family, which photographs the page', async () => {
    await menu(family, 'This week');
    await family.press('Show all of it');
    await family.until('blockquote p', page.text.length, 'the task is not shown line by line');
    const input = await family.window.$('input[name=picture]');
    await input.waitForExist({ timeout: PATIENCE });
    await input.addValue(page.path);
    await family.seen('//h3[normalize-space()="This page can be read."]');
    await family.press('Keep this page');
    await family.seen('//*[normalize-space()="Thank you. The page is kept."]');
    await family.picture('result');
  });

  await step('the page goes over, with its picture', async () => {
    await menu(tutor, 'Devices');
    const said = await exchanged(tutor);
    expect(/received|everything already/.test(said), said);
    await menu(tutor, 'Today');
    await tutor.press('Look at the new page of Ada');
    const drawn = () => {
      const image = document.querySelector('[data-sheet] img');
      return image?.complete === true && image.naturalWidth > 100;
    };
    await tutor.window.waitUntil(() => tutor.window.execute(drawn), { timeout: PATIENCE, timeoutMsg: 'no picture came' });
  });

  await step('a mark is put on it, and comes back to the family', async () => {
    await tutor.press('Box');
    await tutor.write('Your sentence', SAID);
    await tutor.press('Put as “well done”');
    await tutor.until('[data-mark=box]', 1, 'the box is not on the page');
    await tutor.press('Mark as looked at');
    await tutor.seen('//p[starts-with(normalize-space(), "Looked at on")]');
    await menu(tutor, 'Devices');
    await exchanged(tutor);
    await menu(family, 'From the tutor');
    await family.seen(`//*[contains(normalize-space(), "${SAID}")]`);
    await family.until('[data-mark=box]', 1, 'the box is not on the family’s page');
    await family.picture('marks');
  });

  await step('both windows show the same history', async () => {
    await menu(family, 'Progress');
    await menu(tutor, 'Today');
    await tutor.press('Ada');
    await tutor.heading('Ada');
    for (const hand of [tutor, family]) await hand.until('[data-chart]', 1, 'there is no chart');
    const [ours, theirs] = [await history(tutor), await history(family)];
    const charts = Object.keys(ours);
    expect(charts.length >= 6, `only ${charts.length} charts: ${charts}`);
    expect(Object.values(ours).every((told) => told.length >= 2), `a chart has no page: ${JSON.stringify(ours)}`);
    expect(JSON.stringify(ours) === JSON.stringify(theirs), `${JSON.stringify(ours)}\nis not\n${JSON.stringify(theirs)}`);
    await tutor.picture('history');
  });
}

/**
 * Opens a window at each of two drivers, since one driver has one window, on two empty data folders. `page` is a page for
 * a test.
 */
export async function meeting(step, ports, folders, page) {
  const windows = await step('two windows open, each on a data folder of its own', () =>
    Promise.all(ports.map((port, at) => openWindow(port, folders[at]))),
  );
  try {
    await met(step, windows.map((window) => new Hand(window)), page);
  } finally {
    await Promise.all(windows.map((window) => window.deleteSession().catch(() => undefined)));
  }
}
