import { describe, expect, it } from 'vitest';
import { FakeBridge } from '../bridge/fake';
import { HttpBridge } from '../bridge/http';
import { lockOf, Unlocking } from './unlocking.svelte';

const problem = (code: string) => ({ code, message: 'a', whatToDo: 'b' });

function unlocking(code: string): [FakeBridge, Unlocking] {
  const bridge = new FakeBridge();
  bridge.passphrase = 'four odd words';
  const lock = lockOf(bridge, problem(code));
  if (!lock) throw new Error(`${code} is no lock`);
  return [bridge, new Unlocking(lock)];
}

describe('closed data', () => {
  it('can be opened where a passphrase is what is missing', () => {
    const asks = (code: string) => lockOf(new FakeBridge(), problem(code))?.asks ?? null;
    expect(['passphrase-needed', 'wrong-passphrase'].map(asks)).toEqual(['known', 'known']);
    expect(['no-keyring', 'passphrase-short'].map(asks)).toEqual(['new', 'new']);
    expect(['data-in-use', 'key-gone', 'constructor'].map(asks)).toEqual([null, null, null]);
    expect(lockOf(new FakeBridge(), null)).toBe(null);
  });

  it('is opened elsewhere where the terminal asks', () => {
    expect(lockOf(new HttpBridge(), problem('passphrase-needed'))).toBe(null);
  });
});

describe('a passphrase that there is', () => {
  it('opens', async () => {
    const [, one] = unlocking('passphrase-needed');
    expect(one.ready).toBe(false);
    one.known = 'four odd words';
    expect(await one.send()).toBe(true);
    expect(one.known).toBe('');
  });

  it('that is wrong stays to be put right, with what the program says', async () => {
    const [, one] = unlocking('passphrase-needed');
    one.known = 'four old words';
    expect(await one.send()).toBe(false);
    expect([one.known, one.doing.problem?.code]).toEqual(['four old words', 'wrong-passphrase']);
  });
});

describe('a new passphrase', () => {
  it('is sent only once it was typed twice', async () => {
    const [, one] = unlocking('no-keyring');
    one.fresh.first = 'four odd words';
    expect(await one.send()).toBe(false);
    one.fresh.again = 'four odd words';
    expect(await one.send()).toBe(true);
    expect([one.fresh.first, one.fresh.again]).toEqual(['', '']);
  });

  it('that is too short can be made longer', async () => {
    const [bridge, one] = unlocking('no-keyring');
    bridge.locked = problem('passphrase-short');
    one.fresh.first = 'odd';
    one.fresh.again = 'odd';
    expect(await one.send()).toBe(false);
    expect([one.fresh.first, one.doing.problem?.code]).toEqual(['odd', 'passphrase-short']);
  });
});
