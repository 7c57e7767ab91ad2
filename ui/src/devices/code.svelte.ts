import type { ReadQr } from './qr';

/** What came of getting a code without typing it. */
export type CodeGot = 'pasted' | 'read' | 'nothingCopied' | 'noPaste' | 'noCode';

/** A pairing code on its way into the field. */
export class Code {
  text = $state('');
  got = $state<CodeGot | null>(null);
  /** Reads square pictures; `null` where this browser cannot, or while it is not known. */
  reader = $state.raw<ReadQr | null>(null);

  constructor(
    readonly clipboard: Pick<Clipboard, 'readText'> | undefined,
    readonly open: (file: Blob) => Promise<ImageBitmapSource> = (file) => createImageBitmap(file),
  ) {}

  /** Takes what was copied. Whatever was typed stays where nothing was. */
  async paste(): Promise<void> {
    try {
      const copied = (await this.clipboard?.readText())?.trim() ?? '';
      this.#take(copied, 'pasted', 'nothingCopied');
    } catch {
      // The person, or the system, does not allow it.
      this.got = 'noPaste';
    }
  }

  /** Reads it from a picture. */
  async read(picture: Blob): Promise<void> {
    try {
      const found = await this.reader?.(await this.open(picture));
      this.#take(found ?? '', 'read', 'noCode');
    } catch {
      this.got = 'noCode';
    }
  }

  #take(text: string, got: CodeGot, nothing: CodeGot): void {
    if (text !== '') this.text = text;
    this.got = text === '' ? nothing : got;
  }
}
