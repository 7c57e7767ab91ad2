import type { CarryFile, TextFile } from '../bridge/types';
import { fromBase64 } from './base64';

/** Long enough for a browser to have begun with the file. */
const KEPT_MS = 60_000;

export function textFile({ name, text }: TextFile): File {
  return new File([text], name, { type: 'application/json' });
}

export function binaryFile({ name, base64 }: CarryFile): File {
  return new File([fromBase64(base64)], name, { type: 'application/octet-stream' });
}

/** Lets the browser save a file; where it goes is the person's choice. */
export function saveFile(file: File): void {
  const address = URL.createObjectURL(file);
  const link = document.createElement('a');
  link.href = address;
  link.download = file.name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(address), KEPT_MS);
}
