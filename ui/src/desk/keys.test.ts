import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { type Key, Keys } from './keys.svelte';

const kept = new Map<string, string>();
beforeEach(() => {
  kept.clear();
  vi.stubGlobal('localStorage', {
    getItem: (key: string) => kept.get(key) ?? null,
    setItem: (key: string, value: string) => kept.set(key, value),
    removeItem: (key: string) => kept.delete(key),
  });
});
afterEach(() => void vi.unstubAllGlobals());

function keys() {
  const did: string[] = [];
  const key = (name: string, more: Partial<Key> = {}): Key => ({ key: name, does: name, act: () => did.push(`${name}${more.shift ? '⇧' : ''}`), ...more });
  const all = [
    key('b'), key('n'), key('n', { shift: true }), key('?'), key('+'), key('1'),
    key('escape'), key('z', { ctrl: true, shift: false }), key('z', { ctrl: true, shift: true }),
  ];
  return { did, keys: new Keys(() => all) };
}

/** A key pressed where the focus is on something of a kind. */
function pressed(key: string, more: Partial<KeyboardEvent> = {}, on = 'body'): KeyboardEvent {
  const target = { closest: (selector: string) => (selector.split(', ').includes(on) ? {} : null) };
  return {
    key, ctrlKey: false, metaKey: false, altKey: false, shiftKey: false, isComposing: false, defaultPrevented: false,
    preventDefault: vi.fn(), target, ...more,
  } as unknown as KeyboardEvent;
}

describe('keys', () => {
  it('do what they are for, whatever the capitals', () => {
    const { did, keys: one } = keys();
    for (const key of ['b', '1', 'n']) expect(one.press(pressed(key))).toBe(true);
    one.press(pressed('N', { shiftKey: true }));
    one.press(pressed('B', { shiftKey: true }));
    expect(did).toEqual(['b', '1', 'n', 'n⇧']);
  });

  it('take a sign with or without Shift: keyboards differ', () => {
    const { did, keys: one } = keys();
    one.press(pressed('?', { shiftKey: true }));
    one.press(pressed('+', { shiftKey: true }));
    one.press(pressed('+'));
    expect(did).toEqual(['?', '+', '+']);
  });

  it('rest in fields and dialogs, and leave alone what has another meaning', () => {
    const { did, keys: one } = keys();
    for (const on of ['input', 'textarea', 'select', '[contenteditable]', 'dialog']) {
      expect(one.press(pressed('b', {}, on))).toBe(false);
      expect(one.press(pressed('z', { ctrlKey: true }, on))).toBe(false);
    }
    for (const more of [{ altKey: true }, { ctrlKey: true }, { isComposing: true }, { defaultPrevented: true }]) one.press(pressed('b', more));
    one.press(pressed('x'));
    expect(did).toEqual([]);
  });

  it('of one character can be switched off but for those held with Ctrl, and stay so', () => {
    const { did, keys: one } = keys();
    one.switch(false);
    expect(one.press(pressed('b'))).toBe(false);
    expect(one.press(pressed('?', { shiftKey: true }))).toBe(false);
    one.press(pressed('Escape'));
    one.press(pressed('z', { ctrlKey: true }));
    one.press(pressed('Z', { metaKey: true, shiftKey: true }));
    expect(did).toEqual(['escape', 'z', 'z⇧']);
    expect(keys().keys.on).toBe(false);
    one.switch(true);
    expect([keys().keys.on, kept.size]).toEqual([true, 0]);
  });

  it('work where nothing may be kept', () => {
    vi.stubGlobal('localStorage', undefined);
    const { keys: one } = keys();
    one.switch(false);
    expect(one.on).toBe(false);
  });
});
