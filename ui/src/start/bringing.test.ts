import { describe, expect, it } from 'vitest';
import { Refused } from '../bridge/bridge';
import type { BringBack } from '../bridge/types';
import { Bringing } from './bringing.svelte';

describe('a backup that is brought back', () => {
  it('waits for a file and a passphrase, and is sent with the passphrase as it was typed', async () => {
    const told: BringBack[] = [];
    const bringing = new Bringing(async (input) => void told.push(input));
    expect(await bringing.send()).toBe(false);
    bringing.path = ' /media/stick/pupils.backup ';
    expect(await bringing.send()).toBe(false);
    bringing.passphrase = ' four unusual words ';
    expect(await bringing.send()).toBe(true);
    expect(told).toEqual([{ path: '/media/stick/pupils.backup', passphrase: ' four unusual words ' }]);
    expect(bringing.passphrase).toBe('');
  });

  it('loses nothing that was typed where the program says no', async () => {
    const no = new Refused({ code: 'wrong-passphrase', message: 'a', whatToDo: 'b' });
    const bringing = new Bringing(() => Promise.reject(no));
    bringing.path = '/media/stick/pupils.backup';
    bringing.passphrase = 'four other words';
    expect(await bringing.send()).toBe(false);
    expect([bringing.path, bringing.passphrase]).toEqual(['/media/stick/pupils.backup', 'four other words']);
    expect([bringing.doing.problem?.code, bringing.ready]).toEqual(['wrong-passphrase', true]);
  });
});
