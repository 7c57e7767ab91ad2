/** What is kept of a person's likings in this browser alone; nothing about a pupil. */
export function kept(key: string): string | null {
  try {
    return localStorage.getItem(key);
  } catch {
    return null;
  }
}

/** Keeps a liking; `null` forgets it. Where nothing may be kept, it holds until the program is closed. */
export function keep(key: string, value: string | null): void {
  try {
    if (value === null) localStorage.removeItem(key);
    else localStorage.setItem(key, value);
  } catch {
    // Then it was said for this once.
  }
}
