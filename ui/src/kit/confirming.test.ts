import { describe, expect, it, vi } from 'vitest';
import { Refused } from '../bridge/bridge';
import { Confirming } from './confirming.svelte';

const act = () => vi.fn(async () => undefined);

describe('an act to be confirmed', () => {
  it('is not done before it was asked about', async () => {
    const erase = act();
    expect(await new Confirming(() => null).go(erase)).toBe(false);
    expect(erase).not.toHaveBeenCalled();
  });

  it('is done once, and closes', async () => {
    const confirming = new Confirming(() => null);
    const erase = act();
    confirming.begin();
    expect(await confirming.go(erase)).toBe(true);
    expect(await confirming.go(erase)).toBe(false);
    expect(erase).toHaveBeenCalledOnce();
    expect(confirming.open).toBe(false);
  });

  it('waits for the name, whichever way its accents were typed', async () => {
    const confirming = new Confirming(() => 'Zo\u00eb');
    const erase = act();
    confirming.begin();
    for (const typed of ['', 'Zoe', 'zo\u00eb', 'Zo\u00ebb']) {
      confirming.typed = typed;
      expect(confirming.ready, typed).toBe(false);
      expect(await confirming.go(erase)).toBe(false);
    }
    confirming.typed = ' Zoe\u0308 ';
    expect(await confirming.go(erase)).toBe(true);
    expect(erase).toHaveBeenCalledOnce();
  });

  it('stays open with what went wrong, and forgets it when asked anew', async () => {
    const confirming = new Confirming(() => null);
    confirming.begin();
    const full = { code: 'disk-full', message: 'a', whatToDo: 'b' };
    expect(await confirming.go(() => Promise.reject(new Refused(full)))).toBe(false);
    expect([confirming.open, confirming.doing.problem]).toEqual([true, full]);
    confirming.lay();
    confirming.begin();
    expect(confirming.doing.problem).toBe(null);
  });

  it('asks for the name again each time', () => {
    const confirming = new Confirming(() => 'Ada');
    confirming.begin();
    confirming.typed = 'Ada';
    confirming.lay();
    confirming.begin();
    expect(confirming.ready).toBe(false);
  });
});
