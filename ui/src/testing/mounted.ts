// A component as whoever uses it meets it: by roles and names, as a screen reader gets them. Every test runs in the
// first language and in the one that no one speaks, and what it reads is turned back into the first (`plain`). In the
// other, each text that did not come through the catalogue fails the test.
import { type ByRoleMatcher, fireEvent, queryAllByRole } from '@testing-library/dom';
import { type Component, flushSync, mount, unmount } from 'svelte';
import { afterEach, expect } from 'vitest';
import { FakeBridge } from '../bridge/fake';
import type { Overview } from '../bridge/types';
import { Session } from '../shell/session.svelte';
import { language, words } from '../words/words';
import Around from './Around.svelte';
import { foreignIn } from './foreign';
import { plain } from './plain';

export const overviewOf = (more: Partial<Overview> = {}): Overview => ({
  device: { id: 'f'.repeat(32), role: 'tutor', name: 'Wren' },
  network: false,
  relay: null,
  addresses: [],
  openedBy: 'keyring',
  paperKey: false,
  version: '1',
  ...more,
});

export interface Given {
  bridge?: FakeBridge;
  overview?: Overview;
  /** What has happened in the session before the component is there. */
  before?: (session: Session) => void;
  /** What people have typed, and no catalogue has. */
  data?: readonly string[];
}

/** Lets promises end, and the screen follow. */
export async function settled(): Promise<void> {
  await new Promise((done) => setTimeout(done, 0));
  flushSync();
}

export class Mounted {
  constructor(
    readonly root: HTMLElement,
    readonly bridge: FakeBridge,
    readonly session: Session,
    /** Takes the component off the page, as going to another screen does. */
    readonly unmount: () => Promise<void>,
  ) {}

  /** Everything of a role, with the name that is read out. */
  all(role: ByRoleMatcher, name?: string, within: HTMLElement = this.root): HTMLElement[] {
    const named = name === undefined ? {} : { name: (found: string) => plain(found) === name };
    return queryAllByRole(within, role, named);
  }

  /** The one of a role and a name. */
  one(role: ByRoleMatcher, name?: string, within?: HTMLElement): HTMLElement {
    const found = this.all(role, name, within);
    const [only] = found;
    if (!only || found.length > 1) throw new Error(`${found.length} of “${role}” named “${name}” in ${this.root.innerHTML}`);
    return only;
  }

  /** What stands in those of a role, in their order. */
  texts(role: ByRoleMatcher, within?: HTMLElement): string[] {
    return this.all(role, undefined, within).map(textOf);
  }

  /** A table row by row, heads and cells alike. */
  rows(table: HTMLElement = this.one('table')): string[][] {
    return queryAllByRole(table, 'row').map((row) => [...row.children].map(textOf));
  }

  async press(name: string, within?: HTMLElement): Promise<void> {
    fireEvent.click(this.one('button', name, within));
    await settled();
  }

  async write(name: string, text: string): Promise<void> {
    fireEvent.input(this.one('textbox', name), { target: { value: text } });
    await settled();
  }

  /** Says yes to what is asked, by the button of that name. */
  async confirm(name: string): Promise<void> {
    fireEvent.submit(this.one('button', name, this.one('dialog')).closest('form') as HTMLFormElement);
    await settled();
  }

  /** Hands a photograph to the file input of that name. */
  async choose(name: string): Promise<void> {
    const input = this.root.querySelector(`input[type=file][name=${name}]`);
    if (!(input instanceof HTMLInputElement)) throw new Error(`no file input “${name}” in ${this.root.innerHTML}`);
    Object.defineProperty(input, 'files', { value: [new File(['x'], 'page.jpg')] });
    fireEvent.change(input);
    await settled();
  }

  /** What is said to whoever cannot see the screen. */
  get said(): string {
    return plain(this.session.saying.places.join(''));
  }

  settled = settled;

  /** What was sent since the screen stood. */
  get sent(): FakeBridge['calls'] {
    return this.bridge.calls;
  }
}

export const textOf = (element: Element): string => plain(element.textContent ?? '');

/** The sentence that describes an element beside its name. */
export function described(element: Element): string {
  const ids = (element.getAttribute('aria-describedby') ?? '').split(' ').filter(Boolean);
  return ids.map((id) => textOf(document.getElementById(id) ?? document.createElement('p'))).join(' ');
}

/** What is on the page, each with how it is taken off. */
const running = new Map<HTMLElement, () => Promise<void>>();

/** Puts a component on the page, within a session on a bridge for tests. */
export async function show<P extends object>(shown: Component<P, any, any>, given: P, about: Given = {}): Promise<Mounted> {
  const bridge = about.bridge ?? new FakeBridge();
  const session = new Session(bridge);
  session.overview = about.overview ?? overviewOf();
  about.before?.(session);
  document.documentElement.lang = words.locale;
  const root = document.body.appendChild(document.createElement('main'));
  // A component of any properties; the session around it takes part in none of them.
  const around = Around as unknown as Component<{ session: Session; shown: unknown; given: unknown }>;
  const app = mount(around, { target: root, props: { session, shown, given } });
  const leave = async () => {
    if (!running.delete(root)) return;
    const foreign = inPseudo ? foreignIn(root, about.data ?? []) : [];
    await unmount(app);
    root.remove();
    expect(foreign, 'not from the catalogue').toEqual([]);
  };
  running.set(root, leave);
  await settled();
  return new Mounted(root, bridge, session, leave);
}

/** Whether this run is in the language that no one speaks. */
export const inPseudo = language === 'pseudo';

afterEach(async () => {
  for (const leave of [...running.values()]) await leave();
});
