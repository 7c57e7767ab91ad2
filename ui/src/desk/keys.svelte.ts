/** One key with what it does. */
export interface Key {
  key: string;
  /** Held with Ctrl, or ⌘ on a Mac: works whatever is switched off. */
  ctrl?: boolean;
  /** Held with Shift; left open for signs, which need it on some keyboards. */
  shift?: boolean;
  does: string;
  act: () => void;
}

const KEPT = 'single-keys';
const OFF = 'off';

/** Keys of a screen. Those of one character can be switched off, for those who dictate or whose hand slips (WCAG 2.2, 2.1.4). */
export class Keys {
  on = $state(isOn());

  constructor(readonly all: () => readonly Key[]) {}

  switch(on: boolean): void {
    this.on = on;
    try {
      if (on) localStorage.removeItem(KEPT);
      else localStorage.setItem(KEPT, OFF);
    } catch {
      // Where nothing may be kept, it holds until the program is closed.
    }
  }

  /** Does what the key is for; says whether it was one. */
  press(event: KeyboardEvent): boolean {
    if (event.defaultPrevented || event.altKey || event.isComposing || isTaken(event.target)) return false;
    const held = event.ctrlKey || event.metaKey;
    const key = this.all().find(
      (one) =>
        one.key === event.key.toLowerCase() &&
        (one.ctrl ?? false) === held &&
        (one.shift === undefined ? isSign(one.key) || !event.shiftKey : one.shift === event.shiftKey),
    );
    const single = !held && event.key.length === 1;
    if (!key || (single && !this.on)) return false;
    event.preventDefault();
    key.act();
    return true;
  }
}

const isSign = (key: string) => !/^[a-z0-9]$/.test(key);

/** Whether the focus is where keys have another meaning: in a field, or in a dialog. */
function isTaken(target: EventTarget | null): boolean {
  const element = target as { closest?: (selector: string) => unknown } | null;
  return Boolean(element?.closest?.('input, textarea, select, [contenteditable], dialog'));
}

function isOn(): boolean {
  try {
    return localStorage.getItem(KEPT) !== OFF;
  } catch {
    return true;
  }
}
