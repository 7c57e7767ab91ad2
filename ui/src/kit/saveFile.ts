import type { TextFile } from '../bridge/types';

/** Long enough for a browser to have begun with the file. */
const KEPT_MS = 60_000;

/** Lets the browser save a text as a file; where it goes is the person's choice. */
export function saveFile({ name, text }: TextFile): void {
  const address = URL.createObjectURL(new Blob([text], { type: 'application/json' }));
  const link = document.createElement('a');
  link.href = address;
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(address), KEPT_MS);
}
