// How much two pictures differ. Works in a page of a browser, which reads PNG.

/** A picture in small has this many cells a side. */
const CELLS = 32;
/** A sign for each of 64 greys, from black to white (the alphabet of RFC 4648). */
const GREYS = 'ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/';
/** A cell differs where its grey does by this many of them: less is how letters are drawn. */
const STEPS = 3;

/** Opens a page that compares; `close()` ends it. */
export async function openComparer(browser) {
  const page = await browser.newPage();
  await page.evaluate(() => {
    window.points = async (base64, width, height) => {
      const bytes = Uint8Array.from(atob(base64), (letter) => letter.charCodeAt(0));
      const picture = await createImageBitmap(new Blob([bytes], { type: 'image/png' }));
      const canvas = new OffscreenCanvas(width, height);
      const brush = canvas.getContext('2d', { willReadFrequently: true });
      brush.imageSmoothingQuality = 'high';
      brush.drawImage(picture, 0, 0, canvas.width, canvas.height);
      return brush.getImageData(0, 0, canvas.width, canvas.height);
    };
  });
  return {
    close: () => page.close(),

    /** A picture in small: a sign a cell, row by row. */
    inSmall: (png) =>
      page.evaluate(
        async ([base64, cells, greys]) => {
          const { data } = await window.points(base64, cells, cells);
          let text = '';
          for (let at = 0; at < data.length; at += 4) {
            // Luma of ITU-R BT.709.
            const grey = 0.2126 * data[at] + 0.7152 * data[at + 1] + 0.0722 * data[at + 2];
            text += greys[Math.min(63, Math.floor(grey / 4))];
          }
          return text;
        },
        [png.toString('base64'), CELLS, GREYS],
      ),
  };
}

/** The share of cells that differ between two pictures in small, 0 to 1. */
export function differenceInSmall(one, other) {
  if (one.length !== other.length) return 1;
  const cells = [...one].filter((sign, at) => Math.abs(GREYS.indexOf(sign) - GREYS.indexOf(other[at])) >= STEPS);
  return cells.length / one.length;
}
