import { focusNow } from './checks.mjs';
import { Person } from './people.mjs';
import { expect } from './steps.mjs';

/** More presses of the tab key than this nobody should need on one screen. */
const MOST_TABS = 120;
/** Within this time what had the focus, or what came in its place, has it. */
const FOCUS_MS = 3000;

/** Somebody who has a keyboard and no pointer. */
export class Keyboard extends Person {
  /** Presses Tab until `target`, a locator, has the focus, and looks at each stop that it can be seen there. */
  async to(target) {
    const wanted = await target.elementHandle();
    const start = await focusNow(this.page, wanted);
    if (start.aimed) return;
    for (let tabs = 0; tabs < MOST_TABS; tabs += 1) {
      await this.page.keyboard.press('Tab');
      const { covered, unmarked, aimed } = await focusNow(this.page, wanted);
      expect(!covered, `on the way to ${target} the focus is hidden at ${covered}`);
      expect(!unmarked, `on the way to ${target} nothing shows the focus at ${unmarked}`);
      if (aimed) return;
    }
    throw new Error(`${target} is not reached by the tab key`);
  }

  /** Presses a key; afterwards, once `until` is there, something has the focus. */
  async press(key, until) {
    await this.page.keyboard.press(key);
    if (until) await until.waitFor({ timeout: 60_000 });
    await this.keeps(`pressing ${key}`);
  }

  /** Goes to `target` and presses Enter on it. */
  async enter(target, until) {
    await this.to(target);
    await this.page.keyboard.press('Enter');
    if (until) await until.waitFor({ timeout: 60_000 });
    await this.keeps(`Enter at ${target}`);
  }

  /** Goes to a field and types. */
  async type(field, text) {
    await this.to(field);
    await this.page.keyboard.press('Control+a');
    await this.page.keyboard.insertText(text);
    await this.keeps(`typing into ${field}`);
  }

  /** The focus is somewhere, and not only for a moment. */
  async keeps(after) {
    for (let looks = 0; looks < 2; looks += 1) {
      await this.page
        .waitForFunction(() => document.activeElement && document.activeElement !== document.body, null, { timeout: FOCUS_MS })
        .catch(() => expect(false, `after ${after} nothing has the focus`));
      await this.page.waitForTimeout(100);
    }
  }
}
