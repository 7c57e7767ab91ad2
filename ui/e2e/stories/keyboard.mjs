// The main job with a keyboard alone: both devices are settled and paired, a task is set, its page is sent and marked.
import { expect } from '../lib/steps.mjs';

const PUPIL = 'Pip';
const SENTENCE = 'Look how well the words stand apart.';

async function settle(person, name, arrows) {
  const { page } = person;
  await person.heading('Welcome to Pothook').waitFor();
  await person.enter(person.button('Next'), page.getByText('2 of 3', { exact: true }));
  await person.enter(person.button('Next'), page.getByText('3 of 3', { exact: true }));
  await person.to(page.getByRole('radio', { name: 'I am the tutor' }));
  await person.press('Space');
  for (let n = 0; n < arrows; n += 1) await person.press('ArrowDown');
  await person.type(page.getByLabel('Your name'), name);
  await person.press('Enter', person.heading(`All set, ${name}`));
}

async function exchange(person) {
  await person.enter(person.link('Devices').or(person.link('More')).first(), person.page.locator('main h1'));
  const devices = person.page.locator('main').getByRole('link', { name: /^Devices / });
  if (await devices.isVisible()) await person.enter(devices, person.heading('Devices'));
  await person.enter(person.button('Exchange now'), person.page.locator('[data-meetings] p').first());
}

/**
 * `tutor` and `family` are `Keyboard`s at devices that were never started; `sample` is a page for tests. Nothing is done by a
 * pointer but choosing the file, which is the system's own dialog.
 */
export async function byKeyboard(step, tutor, family, sample) {
  await step('by keyboard alone a tutor begins, adds a pupil and sets the task', async () => {
    const { page } = tutor;
    await settle(tutor, 'Ms Reed', 0);
    await tutor.enter(tutor.link('Add a pupil'), tutor.heading('Add a pupil'));
    await tutor.type(page.getByLabel('First name or initials'), PUPIL);
    await tutor.to(page.getByRole('radio', { name: 'Right hand' }));
    await tutor.press('ArrowRight');
    await tutor.enter(tutor.button('Add'), tutor.heading(PUPIL));
    await page.getByText(/Left hand/).first().waitFor();
    const text = page.getByLabel('The text to write');
    await tutor.enter(tutor.button('Set the task').first(), text);
    await tutor.type(text, sample.text.join('\n'));
    await tutor.enter(page.locator('form').getByRole('button', { name: 'Set the task', exact: true }), page.locator('blockquote'));
    await text.waitFor({ state: 'detached' });
    await tutor.keeps('setting the task');
  });

  await step('by keyboard alone both devices are paired', async () => {
    const code = tutor.page.getByLabel('The code as text');
    await tutor.enter(tutor.link('Pair with the family’s device').first(), tutor.heading('Devices'));
    await tutor.enter(tutor.button('Show a pairing code'), code);
    await settle(family, 'Ash', 1);
    await family.enter(family.link('Pair with the tutor'), family.heading('Devices'));
    await family.type(family.page.getByLabel('The tutor’s pairing code'), await code.inputValue());
    await family.enter(family.button('Connect'), family.button('Yes, the same'));
    await tutor.button('Yes, the same').waitFor();
    await tutor.keeps('the words coming up');
    await tutor.enter(tutor.button('Yes, the same'));
    await family.enter(family.button('Yes, the same'), family.button('Done'));
    await tutor.button('Done').waitFor();
    await tutor.keeps('being paired');
    for (const one of [tutor, family]) {
      await one.enter(one.button('Done'));
      await one.button('Done').waitFor({ state: 'detached' });
      await one.keeps('being done');
    }
    await exchange(family);
  });

  await step('by keyboard alone a family sends the page of the week', async () => {
    const { page } = family;
    await family.enter(family.link('This week'), family.heading('Copy this text'));
    await family.enter(family.button('Skip'), page.getByText('How they sit: skipped for now.'));
    const camera = page.locator('input[name=camera]');
    await family.to(camera);
    await camera.setInputFiles(sample.path);
    await family.heading('This page can be read.').waitFor({ timeout: 60_000 });
    await family.keeps('the photograph');
    await family.enter(family.button('Keep this page'), page.getByText('Thank you. The page is kept.'));
    const send = page.getByRole('button', { name: /^(Send now|Switch it on and send)$/ });
    const has = page.getByText('The tutor has this page.');
    await send.or(has).waitFor();
    if (await send.isVisible()) await family.enter(send, has);
    await family.keeps('sending');
    await family.enter(page.locator('[data-answer=gaps]').getByRole('button', { name: /^Show it on the page/ }));
    await page.locator('[data-answer=gaps] [data-overlay] > *').first().waitFor({ state: 'attached' });
  });

  await step('by keyboard alone the tutor opens the page, measures it by eye and marks it', async () => {
    const { page } = tutor;
    await tutor.enter(tutor.link('Today'), tutor.link(`Look at the new page of ${PUPIL}`).first());
    await tutor.press('Enter', tutor.button('Mark as looked at'));
    await page.locator('[data-sheet] img').waitFor();
    await tutor.press('6');
    await page.locator('[data-overlay] > *').first().waitFor({ state: 'attached' });
    await tutor.press('b', page.getByLabel('Your sentence'));
    await tutor.to(page.locator('[data-stage]'));
    const drawn = page.locator('[data-draft] rect');
    await drawn.waitFor({ state: 'attached' });
    const before = await drawn.getAttribute('x');
    await tutor.press('Shift+ArrowRight');
    expect((await drawn.getAttribute('x')) !== before, 'the arrow keys do not move the box');
    await tutor.type(page.getByLabel('Your sentence'), SENTENCE);
    await tutor.enter(tutor.button('Put as “well done”'), page.locator('[data-mark]').first());
    await page.getByText(SENTENCE).waitFor();
    await tutor.enter(page.getByRole('button', { name: 'Change mark 1', exact: true }), page.getByLabel('Your sentence'));
    await tutor.enter(tutor.button('Cancel'));
    await tutor.enter(page.getByRole('button', { name: 'Take off mark 1', exact: true }));
    await page.locator('[data-mark]').waitFor({ state: 'detached' });
    await tutor.keeps('taking off a mark');
    await tutor.press('Control+z', page.locator('[data-mark]'));
    await tutor.enter(tutor.button('Keys'), page.getByRole('dialog'));
    await tutor.press('Escape');
    await tutor.enter(tutor.button('Mark as looked at'), page.getByText(/^Looked at on/));
  });
}
