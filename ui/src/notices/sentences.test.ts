import { expect, it } from 'vitest';
import type { DeviceRow } from '../bridge/types';
import { noticeText } from './sentences';

const row = (device: string, name: string): DeviceRow => ({
  device, name, role: 'parent', pupils: [], lastMet: null, addresses: [], removed: false,
});
const known = { pupils: [], devices: [row('a', 'Jo'), row('b', '')], own: 'me' };

it('every notice names those who are known, and says so of those who are not', () => {
  const said = (from: string, author: string, changes: number) =>
    noticeText({ notice: 'refused', from, author, changes }, known).split(' not taken.')[0];
  expect(said('a', 'me', 1)).toBe('1 change that Jo brought in the name of this device was');
  expect(said('b', 'c', 3)).toBe(
    '3 changes that a device without a name brought in the name of a device without a name were',
  );
  expect(noticeText({ notice: 'cutOff', pupil: 'p', author: 'a', changes: 2 }, known)).toBe(
    '2 changes about a pupil that Jo had made are gone from here. The device that removed Jo had not seen them yet. ' +
      'If something is missing, such as a page, ask for it again.',
  );
  const problem = { code: 'disk-full', message: 'The disk is full.', whatToDo: 'Free some space.' };
  expect(noticeText({ notice: 'unfinished', problem }, known)).toContain('The disk is full. Free some space.');
  expect(noticeText({ notice: 'lateEditsDropped', pupil: 'p', edits: 1 }, known)).toBe(
    '1 change about a pupil came too late: what it belonged to had been forgotten.',
  );
});
