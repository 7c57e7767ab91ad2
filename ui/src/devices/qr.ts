/** What browsers that can read square pictures offer (W3C, Accelerated Shape Detection in Images). */
interface Detector {
  detect(image: ImageBitmapSource): Promise<{ rawValue: string }[]>;
}
export interface Detecting {
  new (options: { formats: string[] }): Detector;
  getSupportedFormats(): Promise<string[]>;
}

const QR = 'qr_code';

/** Reads the text of a square picture; `null` where the picture shows none. */
export type ReadQr = (picture: ImageBitmapSource) => Promise<string | null>;

/** Gives the reader, or `null` where this browser has none. */
export async function qrReader(detecting = offered()): Promise<ReadQr | null> {
  try {
    // Some have the class and nothing behind it.
    if (!detecting || !(await detecting.getSupportedFormats()).includes(QR)) return null;
    const detector = new detecting({ formats: [QR] });
    return async (picture) => (await detector.detect(picture))[0]?.rawValue ?? null;
  } catch {
    return null;
  }
}

function offered(): Detecting | undefined {
  return (globalThis as { BarcodeDetector?: Detecting }).BarcodeDetector;
}
