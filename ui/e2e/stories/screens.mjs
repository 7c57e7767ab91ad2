// Every screen of a device, as it comes and with all that it has folded away: nothing on it shuts anybody out.
import { accessibleInBoth, drawn, fitsAcross, picturesAreSeen, resize, targetsAreLarge, withLetters } from '../lib/checks.mjs';
import { eachScreen, SIZES } from '../lib/shots.mjs';
import { expect } from '../lib/steps.mjs';

const ALL_SIZES = { ...SIZES, tablet: { width: 768, height: 1024 } };
/** The narrowest screen that a page must do with (WCAG 2.2, 1.4.10). */
const NARROWEST = 320;
/** Fewer screens than this no device has. */
const LEAST = 8;

/** Unfolds all that can be unfolded, and what comes to light by that. Says how much it was. */
async function unfold(page) {
  let unfolded = 0;
  for (let round = 0; round < 2; round += 1) {
    const clicked = await page.evaluate(() => {
      const closed = document.querySelectorAll(
        'main details:not([open]) > summary, main [aria-expanded=false]:not([data-turn], [aria-disabled=true], :disabled)',
      );
      // Of those of which only one is open at a time the last stays.
      const seen = [...closed].filter((one) => one.checkVisibility());
      for (const one of seen) one.click();
      return seen.length;
    });
    unfolded += clicked;
    if (clicked === 0) break;
    await settled(page);
  }
  return unfolded;
}

/** Until what was asked for has come and stands where it belongs. */
async function settled(page) {
  await page.waitForFunction(() => !document.querySelector('main div[role=status] > svg'));
  await drawn(page);
}

/** Nobody scrolls sideways: with usual letters, with letters of twice the size, and on the narrowest screen. */
async function across(page, name) {
  const size = page.viewportSize();
  await fitsAcross(page, name);
  // A tablet is asked for usual letters alone.
  if (size.width === ALL_SIZES.tablet.width) return;
  await withLetters(page, 200, async () => {
    await settled(page);
    await fitsAcross(page, `${name} with letters of twice the size`);
    await picturesAreSeen(page, `${name} with letters of twice the size`);
  });
  if (size.width !== SIZES.phone.width) return;
  await resize(page, { ...size, width: NARROWEST });
  await settled(page);
  await fitsAcross(page, name);
  await resize(page, size);
  await settled(page);
}

async function holds(page, name) {
  await picturesAreSeen(page, name);
  await accessibleInBoth(page, name);
  await across(page, name);
  await targetsAreLarge(page, name);
}

/** `devices` are `[name, address]`, settled and with pages, of both roles; the address holds the secret. */
export async function everyScreen(step, browser, devices) {
  for (const [device, address] of devices) {
    for (const [size, viewport] of Object.entries(ALL_SIZES)) {
      await step(`every screen of the ${device}, ${viewport.width} × ${viewport.height}`, async () => {
        let screens = 0;
        let unfolded = 0;
        const look = async (page, { name }) => {
          const called = `${name} of the ${device} (${size})`;
          screens += 1;
          await holds(page, called);
          for (const panel of await page.locator('[data-turn]').all()) {
            if ((await panel.getAttribute('aria-expanded')) === 'false') await panel.click();
            await settled(page);
            unfolded += await unfold(page);
            await holds(page, `${called}, ${await panel.getAttribute('data-turn')}`);
          }
          if ((await page.locator('[data-turn]').count()) > 0) return;
          const more = await unfold(page);
          unfolded += more;
          if (more > 0) await holds(page, `${called}, unfolded`);
        };
        await eachScreen(browser, address, 100, look, { sizes: { [size]: viewport }, schemes: ['light'] });
        expect(screens >= LEAST && unfolded >= LEAST, `${screens} screens, ${unfolded} unfolded`);
        console.log(`  ${screens} screens, ${unfolded} unfolded`);
      });
    }
  }
}
