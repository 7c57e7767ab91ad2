import { describe, expect, it } from 'vitest';
import type { PageRow, PupilView } from '../bridge/types';
import { pageOf, taskOf } from '../pupil/sample';
import { ThisTask } from './this-task.svelte';

const row = (page: string, task: string | null) => pageOf({ page, task });
const view = (tasks: string[], pages: PageRow[] = []) => ({ tasks: tasks.map((id) => taskOf({ id })), pages }) as unknown as PupilView;

describe('the task that a page answers', () => {
  it('is the newest by itself, also when a newer one comes', () => {
    let seen = view(['b', 'a']);
    const chosen = new ThisTask(() => seen);
    expect(chosen.task?.id).toBe('b');
    seen = view(['c', 'b', 'a']);
    expect(chosen.task?.id).toBe('c');
  });

  it('stays what a person chose', () => {
    let seen = view(['b', 'a']);
    const chosen = new ThisTask(() => seen);
    chosen.pick('a');
    seen = view(['c', 'b', 'a']);
    expect(chosen.task?.id).toBe('a');
    chosen.pick(null);
    expect(chosen.task).toBe(null);
  });

  it('is none where none is set', () => {
    const chosen = new ThisTask(() => view([]));
    expect([chosen.task, chosen.answer, chosen.offered]).toEqual([null, null, []]);
  });

  it('is one of the newest few', () => {
    const chosen = new ThisTask(() => view(['e', 'd', 'c', 'b', 'a']));
    expect(chosen.offered.map(({ id }) => id)).toEqual(['e', 'd', 'c']);
  });

  it('knows the newest page that answers it, and no other', () => {
    const chosen = new ThisTask(() => view(['b', 'a'], [row('3', null), row('2', 'b'), row('1', 'b'), row('0', 'a')]));
    expect(chosen.answer?.page).toBe('2');
    chosen.pick('a');
    expect(chosen.answer?.page).toBe('0');
    chosen.pick(null);
    expect(chosen.answer).toBe(null);
  });
});
