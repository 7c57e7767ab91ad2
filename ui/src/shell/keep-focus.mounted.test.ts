import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { keepFocus } from './keep-focus';

let stop = () => undefined as void;
const at = (id: string) => document.getElementById(id) as HTMLButtonElement;
const focus = () => document.activeElement?.id || document.activeElement?.localName;

/** As a browser does it: what is disabled has no focus any more. */
function disable(button: HTMLButtonElement) {
  button.blur();
  button.disabled = true;
}

/** Until what changed has been heard of. */
const heard = () => new Promise((done) => setTimeout(done, 20));

beforeEach(() => {
  document.body.innerHTML = `
    <button id="outside"></button>
    <main id="place" tabindex="-1">
      <section id="list">
        <div id="row"><button id="one"></button><button id="other"></button></div>
      </section>
      <details id="fold" open><summary id="summary"></summary><button id="folded"></button></details>
    </main>`;
  stop = keepFocus(at('place'));
});

afterEach(() => {
  stop();
  document.body.innerHTML = '';
});

describe('the focus', () => {
  it('goes to the nearest about what went away', async () => {
    at('one').focus();
    at('one').remove();
    await heard();
    expect(focus()).toBe('row');
    // No stop of the tab key for that.
    expect(at('row').getAttribute('tabindex')).toBe('-1');
  });

  it('changes nothing about what the tab key reaches by itself', async () => {
    at('row').tabIndex = 0;
    at('one').focus();
    at('one').remove();
    await heard();
    expect([focus(), at('row').tabIndex]).toEqual(['row', 0]);
  });

  it('goes further out where more went away, and at last to the place itself', async () => {
    at('one').focus();
    at('row').remove();
    await heard();
    expect(focus()).toBe('list');
    at('list').remove();
    await heard();
    expect(focus()).toBe('place');
  });

  it('leaves what is disabled, and comes back once that can be pressed again', async () => {
    at('one').focus();
    disable(at('one'));
    await heard();
    expect(focus()).toBe('row');
    at('one').disabled = false;
    await heard();
    expect(focus()).toBe('one');
  });

  it('leaves what is folded away', async () => {
    at('folded').focus();
    at('folded').checkVisibility = () => false;
    at('folded').blur();
    at('fold').removeAttribute('open');
    await heard();
    expect(focus()).toBe('fold');
  });

  it('stays where the screen itself has put it in the meantime', async () => {
    at('one').focus();
    at('one').remove();
    at('other').focus();
    await heard();
    expect(focus()).toBe('other');
    expect(at('row').hasAttribute('tabindex')).toBe(false);
  });

  it('does not come back to what a person has left for something else', async () => {
    at('one').focus();
    disable(at('one'));
    await heard();
    at('summary').tabIndex = 0;
    at('summary').focus();
    at('one').disabled = false;
    await heard();
    expect(focus()).toBe('summary');
    // Nor is it fetched to this, when that is left by a click beside everything.
    at('summary').blur();
    at('other').remove();
    await heard();
    expect(focus()).toBe('body');
  });

  it('is not fetched back from nowhere, as a click beside everything leaves it', async () => {
    at('one').focus();
    at('one').blur();
    at('other').remove();
    await heard();
    expect(focus()).toBe('body');
  });

  it('is taken from nothing outside the place', async () => {
    at('one').focus();
    at('outside').focus();
    at('one').remove();
    await heard();
    expect(focus()).toBe('outside');
  });

  it('is of no concern outside the place', async () => {
    at('outside').focus();
    at('outside').remove();
    at('other').remove();
    await heard();
    expect(focus()).toBe('body');
  });

  it('is left to itself once it is not kept any more', async () => {
    at('one').focus();
    stop();
    at('one').remove();
    await heard();
    expect(focus()).toBe('body');
  });

  it('is left to itself also when that was about to be heard of', async () => {
    at('one').focus();
    at('one').remove();
    // The change is told, and what follows from it waits.
    await Promise.resolve();
    stop();
    await heard();
    expect(focus()).toBe('body');
  });
});
