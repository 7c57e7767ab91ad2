import type { Amendment } from '../bridge/types';
import type { Session } from '../shell/session.svelte';
import type { Amending } from './amending.svelte';
import { putRightText } from './sentences';

/** Puts something right, says so, and keeps the focus near where the pressed button was. */
export async function putRight(session: Session, amending: Amending, what: Amendment): Promise<boolean> {
  const done = await amending.amend(what);
  if (done) said(session, putRightText(what));
  return done;
}

const title = () => document.getElementById('letter-title');

/** Brings the panel of the letter into sight, as far as it is not. */
export function showPanel(): void {
  title()?.scrollIntoView({ block: 'nearest' });
}

/** Leaves the focus at the heading of the panel, where what held it goes away. */
export function toPanel(): void {
  title()?.focus();
}

/** Says what was done; a button that went with it leaves the focus at the heading of the panel. */
export function said(session: Session, sentence: string): void {
  session.say(sentence);
  if (document.activeElement === document.body) toPanel();
}
