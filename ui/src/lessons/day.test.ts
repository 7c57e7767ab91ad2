import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { DayOnScreen } from './day.svelte';

beforeEach(() => void vi.useFakeTimers({ now: new Date(2026, 2, 5, 23, 58) }));
afterEach(() => void vi.useRealTimers());

describe('a screen that stays open over night', () => {
  it('goes on to the next day by itself, and says so once', () => {
    const changed = vi.fn();
    const screen = new DayOnScreen(changed);
    vi.advanceTimersByTime(60_000);
    expect([screen.day, changed.mock.calls.length]).toEqual(['2026-03-05', 0]);
    vi.advanceTimersByTime(120_000);
    expect([screen.day, changed.mock.calls.length]).toEqual(['2026-03-06', 1]);
    screen.close();
    vi.advanceTimersByTime(86_400_000);
    expect(changed).toHaveBeenCalledOnce();
  });
});
