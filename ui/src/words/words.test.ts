import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { phoneWords } from '../phone/words';
import { enGB } from './en-GB';
import { filled, type Gaps, gapsOf } from './gaps';
import { inMarkup, inScript, scriptsOf } from './literals';
import { CLOSING, OPENING, pseudo } from './pseudo';
import { languages, wordsOf } from './words';

const SOURCE = new URL('..', import.meta.url).pathname;
const sourceOf = (file: string) => readFileSync(join(SOURCE, file), 'utf8');

interface Entry {
  path: string;
  value: unknown;
}

function entries(catalogue: object, path = ''): Entry[] {
  return Object.entries(catalogue).flatMap(([key, value]): Entry[] =>
    typeof value === 'object' && value !== null
      ? entries(value, `${path}.${key}`)
      : [{ path: `${path}.${key}`, value }],
  );
}

const GAPS = {
  screens: gapsOf(sourceOf('words/en-GB.ts'), 'enGB'),
  phone: gapsOf(sourceOf('phone/words.ts'), 'inEnglish'),
};

/** Every text that an entry can come to, as far as a few ways of filling it show. */
function textsOf({ path, value }: Entry, gaps: Gaps): unknown[] {
  if (typeof value !== 'function') return [value];
  const types = gaps.get(path);
  if (!types) throw new Error(`the source says nothing of ${path}`);
  return filled(value as (...gaps: unknown[]) => unknown, types);
}

describe('the catalogue', () => {
  const all = entries(enGB);

  it('has no empty text, and fills every gap', () => {
    expect(all.length).toBeGreaterThan(800);
    for (const entry of all) {
      const { path } = entry;
      for (const text of textsOf(entry, GAPS.screens)) {
        expect(typeof text, path).toBe('string');
        expect(String(text).trim(), path).not.toBe('');
        expect(String(text), path).not.toMatch(/undefined|NaN|null|\[object|function|=>/);
      }
    }
  });

  it('uses no text that nobody asks for', () => {
    const source = files('').map(sourceOf).join('\n');
    // Asked for by its own name, or out of a table by a key that the program sent.
    const asked = (name: string) => new RegExp(`\\.${name}\\b`).test(source);
    const table = (name: string) => new RegExp(`\\.${name}\\[`).test(source);
    const unused = all
      .map(({ path }) => path)
      .filter((path) => {
        const names = path.split('.').slice(1);
        return !asked(names.at(-1) ?? '') && !names.slice(0, -1).some(table);
      });
    expect(unused).toEqual([]);
  });

  it('names a language that numbers and days can be written in', () => {
    expect(Intl.getCanonicalLocales(enGB.locale)).toEqual([enGB.locale]);
    expect(Intl.NumberFormat.supportedLocalesOf([enGB.locale])).toEqual([enGB.locale]);
  });
});

describe('the language that no one speaks', () => {
  it.each([
    ['the screens', enGB, GAPS.screens],
    ['the page on a phone', phoneWords, GAPS.phone],
  ])('has every entry of %s, each marked at both ends', (_, catalogue, gaps) => {
    const spoken = entries(catalogue).filter(({ path }) => path !== '.locale');
    const strange = entries(pseudo(catalogue)).filter(({ path }) => path !== '.locale');
    expect(strange.map(({ path }) => path)).toEqual(spoken.map(({ path }) => path));
    for (const entry of strange) {
      const { path } = entry;
      for (const text of textsOf(entry, gaps)) {
        expect(String(text).startsWith(OPENING), path).toBe(true);
        expect(String(text).endsWith(CLOSING), path).toBe(true);
      }
    }
  });

  it('leaves what programs read, and the shape of everything', () => {
    const turned = pseudo({ locale: 'en-GB', list: ['one', 'two'], deep: { n: 3, say: (name: string) => `Hello ${name}` } });
    expect([turned.locale, turned.deep.n, Array.isArray(turned.list)]).toEqual(['en-GB', 3, true]);
    expect(turned.deep.say('Ada')).toBe('⟦Hélló Ádá···⟧'.replaceAll('ó', 'ö'));
  });

  it('is not offered where nobody asked for it', () => {
    expect(languages).toEqual([{ language: 'en-GB', name: 'British English' }]);
    expect(wordsOf('pseudo').general.save).toBe('⟦Šávé··⟧');
  });

  it.each([null, '', 'tlh', 'toString', '__proto__'])('nor is any that is not there: %s', (language) => {
    expect(wordsOf(language)).toBe(enGB);
  });
});

describe('the source', () => {
  it.each(files('.svelte'))('%s says nothing of its own', (file) => {
    const source = sourceOf(file);
    expect([...inMarkup(source), ...inScript(scriptsOf(source))]).toEqual([]);
  });

  it.each(files('.ts').filter((file) => !file.startsWith('words/') && file !== 'phone/words.ts'))(
    '%s says nothing of its own',
    (file) => expect(inScript(sourceOf(file))).toEqual([]),
  );

  it('would be noticed to say something of its own', () => {
    expect(inMarkup('<p>{#if x}<b aria-label="Close">Hello</b>{/if}</p>')).toEqual(['Close', 'Hello']);
    expect(inMarkup('<p>{open ? "Hide it" : t.show} {name ?? `Nobody ${n}`}</p>')).toEqual(['Hide it', 'Nobody ']);
    expect(inMarkup('<Field label={a && "Name"} id="nothing" class="row" style:width="{n}px" />')).toEqual(['Name']);
    expect(inMarkup('<p>{t[a === "tutor" ? b : c]} {say("by key")}</p>')).toEqual([]);
    expect(inScript('say("The page is kept."); say(`Hello there ${n}`); throw new Error("Not for people")')).toEqual([
      'The page is kept.',
      'Hello there ',
    ]);
    expect(scriptsOf('<script lang="ts">say("a")</script><p>b</p>')).toBe('say("a")');
  });
});

function files(ending: string): string[] {
  return readdirSync(SOURCE, { recursive: true, encoding: 'utf8' })
    .filter((file) => /\.(svelte|ts)$/.test(file) && !file.includes('.test.') && !file.endsWith('en-GB.ts'))
    // For tests alone.
    .filter((file) => !/(^|\/)(sample|literals|gaps)\.ts$/.test(file))
    .filter((file) => file.endsWith(ending))
    .sort();
}
