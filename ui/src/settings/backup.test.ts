import { describe, expect, it } from 'vitest';
import { FakeBridge } from '../bridge/fake';
import { Backup } from './backup.svelte';

/** A field whose words are remembered nowhere. */
class Typed {
  constructor(public text: string) {}
  async drop() {
    this.text = '';
  }
}

function typed(bridge: FakeBridge, path: string, first: string, again: string): Backup {
  const backup = new Backup(bridge, new Typed(path));
  backup.passphrase.first = first;
  backup.passphrase.again = again;
  return backup;
}

describe('a backup', () => {
  it('is asked for once there is a place and the passphrase was typed twice', async () => {
    const bridge = new FakeBridge();
    expect(await typed(bridge, ' ', 'four odd words', 'four odd words').save()).toBe(false);
    expect(await typed(bridge, '/disk/backup', 'four odd words', 'four old words').save()).toBe(false);
    expect(bridge.calls).toEqual([]);
  });

  it('that is made leaves no passphrase behind', async () => {
    const bridge = new FakeBridge();
    const made = { changes: 12, blobs: 3, bytes: 4_000_000 };
    bridge.answers.back_up = made;
    const backup = typed(bridge, ' /disk/backup ', ' four odd words', ' four odd words');
    expect(await backup.save()).toBe(true);
    expect(bridge.calls).toEqual([['back_up', { path: '/disk/backup', passphrase: ' four odd words' }]]);
    expect([backup.made, backup.passphrase.first, backup.passphrase.again]).toEqual([made, '', '']);
    expect(backup.path.text).toBe('');
  });

  it('that came to nothing can be put right', async () => {
    const bridge = new FakeBridge();
    bridge.refusals.back_up = { code: 'file-there', message: 'a', whatToDo: 'b' };
    const backup = typed(bridge, '/disk/backup', 'four odd words', 'four odd words');
    expect(await backup.save()).toBe(false);
    expect([backup.doing.problem?.code, backup.made, backup.ready]).toEqual(['file-there', null, true]);
    expect(backup.path.text).toBe('/disk/backup');
  });
});
