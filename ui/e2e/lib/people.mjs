import { expect } from './steps.mjs';

/** What either person does on the screens, by the names that a screen reader would speak. */
export class Person {
  constructor(page) {
    this.page = page;
  }

  button(name) {
    return this.page.getByRole('button', { name, exact: true });
  }

  link(name) {
    return this.page.getByRole('link', { name, exact: true });
  }

  heading(name) {
    return this.page.getByRole('heading', { name, exact: true });
  }

  async menu(name) {
    const menu = this.page.getByRole('navigation', { name: 'Main menu', exact: true });
    await menu.waitFor();
    const entry = menu.getByRole('link', { name, exact: true });
    if ((await entry.count()) > 0) await entry.click();
    else {
      // On a family's device what is seldom needed stands behind one entry.
      await menu.getByRole('link', { name: 'More', exact: true }).click();
      await this.page.locator('main').getByRole('link', { name: new RegExp(`^${name} `) }).click();
    }
    await this.heading(name).waitFor();
  }

  /** Settles whose device this is, without reading what the start says; then looks at its first screen. */
  async settle(role, name) {
    await this.button('Skip to setting up').click();
    await this.page.getByRole('radio', { name: role }).check();
    await this.page.getByLabel('Your name').fill(name);
    await this.button('Begin').click();
    await this.heading(`All set, ${name}`).waitFor();
    await this.link('Later').click();
  }

  /** Presses the button and says yes to what it asks; `typed` is what has to be typed first. */
  async confirm(name, typed) {
    await this.button(name).click();
    const dialog = this.page.getByRole('dialog');
    const yes = dialog.getByRole('button', { name, exact: true });
    if (typed) {
      expect(await yes.isDisabled(), `“${name}” can be pressed before anything was typed`);
      await dialog.getByRole('textbox').fill(typed);
    }
    await yes.click();
    await dialog.waitFor({ state: 'hidden' });
  }

  /** Exchanges with all paired devices; what was said is the answer. */
  async exchange() {
    await this.menu('Devices');
    await this.button('Exchange now').click();
    const said = this.page.locator('[data-meetings] p').first();
    await said.waitFor({ timeout: 30_000 });
    return said.innerText();
  }

  /** All charts with their verdicts and the tables behind them. */
  async charts() {
    const group = this.page.getByRole('group', { name: 'Which of the eight things looked at?' });
    await group.waitFor();
    const all = {};
    for (const radio of await group.getByRole('radio').all()) {
      await radio.check();
      // Where there are pages of several kinds, one kind is shown at a time.
      for (const kind of await this.page.getByRole('group', { name: 'Which pages?' }).getByRole('radio').all()) {
        await kind.check();
        Object.assign(all, await this.#shown());
      }
      Object.assign(all, await this.#shown());
    }
    expect(Object.keys(all).length > 0, 'there is no chart');
    return all;
  }

  async #shown() {
    const all = {};
    for (const chart of await this.page.locator('[data-chart]').all()) {
      const name = await chart.getAttribute('data-chart');
      const table = chart.locator('details');
      if ((await table.getAttribute('open')) === null) await table.locator('summary').click();
      all[name] = {
        verdict: await chart.locator('figcaption strong').innerText(),
        rows: await chart.locator('tbody tr').allInnerTexts(),
      };
    }
    return all;
  }
}
