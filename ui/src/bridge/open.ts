import type { Bridge } from './bridge';
import { HttpBridge, secretOf } from './http';
import { TauriBridge } from './tauri';

/** Finds out where this page runs and opens the way to the program. */
export async function openBridge(): Promise<Bridge> {
  if ('__TAURI_INTERNALS__' in window) {
    const bridge = new TauriBridge();
    await bridge.listen();
    return bridge;
  }
  const bridge = new HttpBridge();
  const secret = secretOf(location.hash);
  if (secret !== null) {
    // The secret leaves the address bar and the history before anything else happens.
    history.replaceState(null, '', location.pathname);
    await bridge.openSession(secret);
  }
  bridge.listen();
  return bridge;
}
