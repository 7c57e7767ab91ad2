import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { type AST, parse } from 'svelte/compiler';
import { describe, expect, it } from 'vitest';
import { enGB } from './en-GB';
import { CLOSING, OPENING, pseudo } from './pseudo';

const SOURCE = new URL('..', import.meta.url).pathname;
const HAS_LETTERS = /\p{Letter}{2}/u;
/** Attributes that people see or hear. */
const SPOKEN = new Set(['aria-label', 'aria-description', 'alt', 'title', 'placeholder', 'label', 'legend', 'sentence']);

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

function textOf(value: unknown): string {
  return typeof value === 'function' ? String(value('2', '3', '4', '5')) : String(value);
}

describe('the catalogue', () => {
  it('has no empty text', () => {
    for (const { path, value } of entries(enGB)) expect(textOf(value).trim(), path).not.toBe('');
  });

  it('uses no text that nobody asks for', () => {
    const source = files('').map((file) => readFileSync(join(SOURCE, file), 'utf8')).join('\n');
    // Asked for by its own name, or out of a table by a key that the program sent.
    const asked = (name: string) => new RegExp(`\\.${name}\\b`).test(source);
    const table = (name: string) => new RegExp(`\\.${name}\\[`).test(source);
    const unused = entries(enGB)
      .map(({ path }) => path)
      .filter((path) => {
        const names = path.split('.').slice(1);
        return !asked(names.at(-1) ?? '') && !names.slice(0, -1).some(table);
      });
    expect(unused).toEqual([]);
  });
});

describe('the language that no one speaks', () => {
  const strange = pseudo(enGB);

  it('has every entry of the catalogue, each marked at both ends', () => {
    const all = entries(strange).filter(({ path }) => path !== '.code');
    expect(all.map(({ path }) => path)).toEqual(
      entries(enGB).map(({ path }) => path).filter((path) => path !== '.code'),
    );
    for (const { path, value } of all) {
      expect(textOf(value).startsWith(OPENING), path).toBe(true);
      expect(textOf(value).endsWith(CLOSING), path).toBe(true);
    }
  });
});

describe('the markup', () => {
  it.each(files('.svelte'))('%s says nothing of its own', (file) => {
    const { fragment } = parse(readFileSync(join(SOURCE, file), 'utf8'), { modern: true });
    expect(literals(fragment)).toEqual([]);
  });

  it('would notice a text of its own', () => {
    const { fragment } = parse('<p>{#if x}<b aria-label="Close">Hello</b>{/if}</p>', { modern: true });
    expect(literals(fragment)).toEqual(['Close', 'Hello']);
  });
});

function files(ending: string): string[] {
  return readdirSync(SOURCE, { recursive: true, encoding: 'utf8' })
    .filter((file) => /\.(svelte|ts)$/.test(file) && !file.includes('.test.') && !file.endsWith('en-GB.ts'))
    .filter((file) => file.endsWith(ending))
    .sort();
}

/** Every text with letters that stands in the markup itself. */
function literals(fragment: AST.Fragment): string[] {
  const found: string[] = [];
  const visit = (node: unknown, spoken: boolean): void => {
    if (Array.isArray(node)) {
      for (const one of node) visit(one, spoken);
      return;
    }
    if (typeof node !== 'object' || node === null) return;
    const { type, name, data } = node as { type?: string; name?: string; data?: string };
    if (type === 'Text' && spoken && HAS_LETTERS.test(data ?? '')) found.push((data ?? '').trim());
    const inside = type === 'Attribute' ? SPOKEN.has(name ?? '') : spoken;
    for (const [key, child] of Object.entries(node)) if (key !== 'expression') visit(child, inside);
  };
  visit(fragment.nodes, true);
  return found;
}
