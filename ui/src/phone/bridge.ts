import { invoke } from '@tauri-apps/api/core';
import { isProblem, NO_CONNECTION, NOT_UNDERSTOOD, Refused, SESSION_ENDED } from '../bridge/bridge';
import { words } from '../words/words';
import type { Standing, Wanted } from './types';

/** The way from this computer's screen to the page that it serves to a phone. Every failure is a `Refused`. */
export interface PhoneBridge {
  standing(): Promise<Standing>;
  open(wanted: Wanted): Promise<Standing>;
  close(): Promise<Standing>;
}

export function phoneBridge(): PhoneBridge {
  return '__TAURI_INTERNALS__' in window ? byWindow : byWeb;
}

const byWindow: PhoneBridge = {
  standing: () => told(invoke('phone_state')),
  open: (wanted) => told(invoke('phone_open', { wanted })),
  close: () => told(invoke('phone_close')),
};

const byWeb: PhoneBridge = {
  standing: () => asked('GET'),
  open: (wanted) => asked('POST', wanted),
  close: () => asked('DELETE'),
};

async function told(answer: Promise<unknown>): Promise<Standing> {
  try {
    return (await answer) as Standing;
  } catch (error) {
    throw new Refused(isProblem(error) ? error : { code: NOT_UNDERSTOOD, ...words.problems.notUnderstood });
  }
}

async function asked(method: string, wanted?: Wanted): Promise<Standing> {
  const body = wanted && JSON.stringify(wanted);
  const headers = wanted && { 'content-type': 'application/json' };
  const response = await fetch('/phone', { method, body, headers, credentials: 'same-origin', cache: 'no-store' }).catch(
    () => {
      throw new Refused({ code: NO_CONNECTION, ...words.problems.noConnection });
    },
  );
  if (response.status === 401) throw new Refused({ code: SESSION_ENDED, ...words.problems.sessionEnded });
  const answer: unknown = await response.json().catch(() => null);
  if (response.ok) return answer as Standing;
  throw new Refused(isProblem(answer) ? answer : { code: NOT_UNDERSTOOD, ...words.problems.notUnderstood });
}
