/** A multiple of three, so that no piece ends in padding; small enough to be handed over as arguments. */
const PIECE = 24_576;

/** Bytes as base64 (RFC 4648). */
export function toBase64(bytes: Uint8Array): string {
  let text = '';
  for (let at = 0; at < bytes.length; at += PIECE) {
    text += btoa(String.fromCharCode(...bytes.subarray(at, at + PIECE)));
  }
  return text;
}

/** The bytes of a base64 text. */
export function fromBase64(text: string): Uint8Array<ArrayBuffer> {
  const characters = atob(text);
  const bytes = new Uint8Array(characters.length);
  for (let at = 0; at < bytes.length; at += 1) bytes[at] = characters.charCodeAt(at);
  return bytes;
}
