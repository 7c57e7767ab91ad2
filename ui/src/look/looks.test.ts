import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { keep, kept } from './kept';
import { Looks, type Root } from './looks.svelte';

const store = new Map<string, string>();

beforeEach(() => {
  store.clear();
  vi.stubGlobal('localStorage', {
    getItem: (key: string) => store.get(key) ?? null,
    setItem: (key: string, value: string) => store.set(key, value),
    removeItem: (key: string) => store.delete(key),
  });
});
afterEach(() => void vi.unstubAllGlobals());

function root(): Root & { sizes: string[] } {
  const sizes: string[] = [];
  return { sizes, dataset: {}, style: { setProperty: (name, value) => void sizes.push(`${name}: ${value}`) } };
}

describe('looks', () => {
  it('are the usual ones until somebody likes others', () => {
    const page = root();
    const looks = new Looks(page);
    expect([looks.textSize, looks.scheme]).toEqual([100, 'system']);
    expect([page.sizes.at(-1), page.dataset.scheme]).toEqual(['--text-size: 1', 'system']);
  });

  it('are shown at once, and are there again', () => {
    const page = root();
    const looks = new Looks(page);
    looks.textSize = 175;
    looks.scheme = 'dark';
    expect([page.sizes.at(-1), page.dataset.scheme]).toEqual(['--text-size: 1.75', 'dark']);
    const again = root();
    expect([new Looks(again).textSize, again.sizes.at(-1), again.dataset.scheme]).toEqual([175, '--text-size: 1.75', 'dark']);
  });

  it('leave nothing behind once they are the usual ones again', () => {
    const looks = new Looks(root());
    looks.textSize = 200;
    looks.scheme = 'light';
    expect(store.size).toBe(2);
    looks.textSize = 100;
    looks.scheme = 'system';
    expect(store.size).toBe(0);
  });

  it.each(['99', '1000', 'huge', '', '100px'])('are not taken from what makes no sense: %s', (value) => {
    store.set('text-size', value);
    store.set('scheme', value);
    const looks = new Looks(root());
    expect([looks.textSize, looks.scheme]).toEqual([100, 'system']);
  });

  it('hold for this once where nothing may be kept', () => {
    vi.stubGlobal('localStorage', undefined);
    const page = root();
    const looks = new Looks(page);
    looks.textSize = 150;
    expect([looks.textSize, page.sizes.at(-1)]).toEqual([150, '--text-size: 1.5']);
    expect(() => keep('scheme', 'dark')).not.toThrow();
    expect(kept('scheme')).toBe(null);
  });
});
