/** Whether the system can hand this file to another program. */
export function canShare(file: File): boolean {
  return typeof navigator.canShare === 'function' && navigator.canShare({ files: [file] });
}

/** Lets a person choose the program that gets the file. */
export async function shareFile(file: File): Promise<void> {
  try {
    await navigator.share({ files: [file] });
  } catch (error) {
    // Somebody who changes their mind has done nothing wrong.
    if (!(error instanceof DOMException && error.name === 'AbortError')) throw error;
  }
}
