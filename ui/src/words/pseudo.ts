const ACCENTED: Record<string, string> = {
  a: 'á', c: 'ç', e: 'é', i: 'í', n: 'ñ', o: 'ö', s: 'š', u: 'ü', y: 'ý', z: 'ž',
  A: 'Á', C: 'Ç', E: 'É', I: 'Í', N: 'Ñ', O: 'Ö', S: 'Š', U: 'Ü', Y: 'Ý', Z: 'Ž',
};

export const OPENING = '⟦';
export const CLOSING = '⟧';

function accent(text: string): string {
  // A third longer, as a translation often is; brackets show where a text was cut or glued.
  const longer = '·'.repeat(Math.ceil(text.length / 3));
  const accented = [...text].map((letter) => ACCENTED[letter] ?? letter).join('');
  return `${OPENING}${accented}${longer}${CLOSING}`;
}

/** Turns a catalogue into one that no one speaks, to prove that every text goes through it. */
export function pseudo<T>(catalogue: T): T {
  return turn(catalogue) as T;
}

function turn(entry: unknown): unknown {
  if (typeof entry === 'string') return accent(entry);
  if (typeof entry === 'function') {
    return (...values: unknown[]) => accent(String(entry(...values)));
  }
  if (Array.isArray(entry)) return entry.map(turn);
  if (typeof entry === 'object' && entry !== null) {
    return Object.fromEntries(Object.entries(entry).map(([key, value]) => [key, key === 'locale' ? value : turn(value)]));
  }
  return entry;
}
