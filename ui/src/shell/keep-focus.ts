/** Whether the keyboard can still reach it. */
function reachable(element: HTMLElement): boolean {
  return !element.matches(':disabled') && element.checkVisibility();
}

/**
 * Keeps the focus within `place`. Where what has it goes away, or is disabled, the nearest that stood about it gets it, so
 * that whoever uses keys goes on from there (WCAG 2.2, 2.4.3); once what had it can be reached again, it has it back.
 * Whatever a screen does about the focus by itself comes first.
 */
export function keepFocus(place: HTMLElement): () => void {
  /** What had the focus, and all about it, from within. */
  let way: HTMLElement[] = [];
  /** What has the focus in its stead. */
  let stead: HTMLElement | null = null;
  let waiting = 0;

  function note({ target }: FocusEvent) {
    if (target === stead || !(target instanceof HTMLElement)) return;
    stead = null;
    way = [];
    for (let at: HTMLElement | null = target; at && place.contains(at); at = at.parentElement) way.push(at);
  }

  function mend() {
    waiting = 0;
    const [had] = way;
    const at = document.activeElement;
    const lost = at === null || at === document.body || at === stead;
    if (!had || !lost) return;
    if (reachable(had)) {
      // Whoever has left it by a click is left alone.
      if (stead) had.focus({ preventScroll: true });
      return;
    }
    const next = way.find((one) => one !== had && reachable(one)) ?? place;
    if (next === stead) return;
    stead = next;
    if (next.tabIndex < 0) next.setAttribute('tabindex', '-1');
    next.focus({ preventScroll: true });
  }

  const observer = new MutationObserver(() => {
    waiting ||= window.setTimeout(mend);
  });
  observer.observe(place, { subtree: true, childList: true, attributeFilter: ['disabled', 'hidden', 'open'] });
  place.addEventListener('focusin', note);
  return () => {
    observer.disconnect();
    place.removeEventListener('focusin', note);
    window.clearTimeout(waiting);
  };
}
