import { xchacha20poly1305 } from '@noble/ciphers/chacha.js';
import { fromBase64 } from '../kit/base64';

/**
 * Messages that only this page and the program can read or make. The format stands at the head of the Rust
 * crate `phone`. A page that comes without encryption has no cryptography of the browser's own.
 */

/** Under which key: the code's, or the visit's. */
export type Under = 'code' | 'visit';

export interface Text {
  json: unknown;
  picture: Uint8Array;
}

const LABEL = new TextEncoder().encode('pothook phone 1');
const NONCE = 24;
const TAG = 16;
const HEAD = 1 + 4 + NONCE;
const LENGTHS = 8;
const STEP = 65_536;

/** Seals a question: its head, and the sealed text. */
export function seal(key: Uint8Array, under: Under, number: number, { json, picture }: Text): Uint8Array<ArrayBuffer> {
  const plain = new TextEncoder().encode(JSON.stringify(json));
  const length = Math.ceil((LENGTHS + plain.length + picture.length) / STEP) * STEP;
  const message = new Uint8Array(HEAD + length + TAG);
  const view = new DataView(message.buffer);
  message[0] = under === 'visit' ? 1 : 0;
  view.setUint32(1, number);
  const nonce = crypto.getRandomValues(message.subarray(5, HEAD));
  view.setUint32(HEAD, plain.length);
  view.setUint32(HEAD + 4, picture.length);
  message.set(plain, HEAD + LENGTHS);
  message.set(picture, HEAD + LENGTHS + plain.length);
  const bound = Uint8Array.of(...LABEL, 0, ...message.subarray(0, 5));
  // Sealed where it stands: a photograph is not held twice.
  xchacha20poly1305(key, nonce, bound).encrypt(message.subarray(HEAD, HEAD + length), message.subarray(HEAD));
  return message;
}

/** Opens the answer to a question; `null` where it is not the program's answer to just this one. */
export function open(key: Uint8Array, question: Uint8Array, answer: Uint8Array): Text | null {
  const bound = Uint8Array.of(...LABEL, 1, ...question.subarray(0, HEAD));
  try {
    const text = xchacha20poly1305(key, answer.subarray(0, NONCE), bound).decrypt(answer.subarray(NONCE));
    const view = new DataView(text.buffer, text.byteOffset, text.byteLength);
    const pictureAt = LENGTHS + view.getUint32(0);
    const end = pictureAt + view.getUint32(4);
    if (end > text.length) return null;
    const json: unknown = JSON.parse(new TextDecoder().decode(text.subarray(LENGTHS, pictureAt)));
    return { json, picture: text.slice(pictureAt, end) };
  } catch {
    return null;
  }
}

/** The bytes of a text in base64url without padding (RFC 4648, section 5); `null` where it is none. */
export function fromBase64Url(text: string): Uint8Array | null {
  try {
    return fromBase64(text.replaceAll('-', '+').replaceAll('_', '/'));
  } catch {
    return null;
  }
}
