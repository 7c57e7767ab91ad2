import { createContext } from 'svelte';
import { keep, kept } from './kept';

/** How large letters can be, in per cent of the usual size (WCAG 2.2, 1.4.4 asks for up to 200). */
export const TEXT_SIZES = [100, 125, 150, 175, 200] as const;
export type TextSize = (typeof TEXT_SIZES)[number];

/** `system`: as the system has it. */
export const SCHEMES = ['system', 'light', 'dark'] as const;
export type Scheme = (typeof SCHEMES)[number];

const TEXT_SIZE = 'text-size';
const SCHEME = 'scheme';

/** What is set on the root of the page; `tokens.css` and `base.css` do the rest. */
export interface Root {
  style: { setProperty: (name: string, value: string) => void };
  dataset: DOMStringMap;
}

/** Size of letters and colours, as the person in front of this device likes them. */
export class Looks {
  #textSize = $state<TextSize>(100);
  #scheme = $state<Scheme>('system');

  constructor(readonly root: Root) {
    const size = kept(TEXT_SIZE);
    this.#textSize = TEXT_SIZES.find((one) => String(one) === size) ?? 100;
    const scheme = kept(SCHEME);
    this.#scheme = SCHEMES.find((one) => one === scheme) ?? 'system';
    this.#show();
  }

  get textSize(): TextSize {
    return this.#textSize;
  }

  set textSize(size: TextSize) {
    this.#textSize = size;
    keep(TEXT_SIZE, size === 100 ? null : String(size));
    this.#show();
  }

  get scheme(): Scheme {
    return this.#scheme;
  }

  set scheme(scheme: Scheme) {
    this.#scheme = scheme;
    keep(SCHEME, scheme === 'system' ? null : scheme);
    this.#show();
  }

  #show(): void {
    this.root.style.setProperty('--text-size', String(this.#textSize / 100));
    this.root.dataset.scheme = this.#scheme;
  }
}

export const [getLooks, setLooks] = createContext<Looks>();
