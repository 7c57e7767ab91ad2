// Every screen of a device, by its address. A test of the screens' own routes holds this to be all of them.

/** Addresses of one device's screens; `{pupil}`, `{page}` and `{other}` stand for ids. */
const ADDRESSES = {
  tutor: [
    '#/home',
    '#/add',
    '#/pupil/{pupil}',
    '#/desk/{pupil}/{page}',
    '#/compare/{pupil}/{page}/{other}',
    '#/letters/{pupil}/e',
    '#/devices',
    '#/settings',
  ],
  parent: [
    '#/home',
    '#/week/{pupil}',
    '#/result/{pupil}/{page}',
    '#/replies/{pupil}',
    '#/practice/{pupil}',
    '#/progress/{pupil}',
    '#/more',
    '#/devices',
    '#/settings',
  ],
};

/** What the program behind a page, which has a session, has to show: the role, and ids of whoever has most pages. */
async function known(page) {
  return page.evaluate(async () => {
    const call = async (verb, input) => {
      const request = { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify(input) };
      const answer = await fetch(`/call/${verb}`, request);
      if (!answer.ok) throw new Error(await answer.text());
      return answer.json();
    };
    const { device } = await call('overview', {});
    const { pupils } = await call('pupils', {});
    const views = await Promise.all(pupils.map(({ pupil }) => call('pupil', { pupil })));
    const [most] = views.sort((one, other) => other.pages.length - one.pages.length);
    return { role: device?.role, pupil: most?.pupil, pages: most?.pages.map(({ page }) => page) ?? [] };
  });
}

/**
 * All screens that this device can show now, as `{ name, hash }`; those of a page only where there is one. `page` is
 * a browser page with a session.
 */
export async function allScreens(page) {
  const { role, pupil, pages } = await known(page);
  const ids = { pupil, page: pages.at(-1), other: pages.at(-2) };
  return (ADDRESSES[role] ?? []).flatMap((address) => {
    const hash = address.replace(/\/?\{(\w+)\}/g, (_, id) => (ids[id] ? `/${ids[id]}` : '/?'));
    return hash.includes('?') ? [] : [{ name: address.split('/')[1], hash }];
  });
}

/** Goes to a screen, and waits until what it shows has come. */
export async function goTo(page, hash) {
  const there = (await page.evaluate(() => location.hash)) === hash;
  if (there) await page.reload();
  else await page.evaluate((to) => (location.hash = to), hash);
  await page.locator('main h1').first().waitFor({ timeout: 30_000 });
  await page.evaluate(() => document.fonts.ready);
  // Parts are asked for one by one; while one is on its way, a line is written before the words that say so.
  const waiting = page.locator('main div[role=status] > svg');
  for (let quiet = 0; quiet < 3; quiet += 1) {
    if ((await waiting.count()) > 0) quiet = -1;
    await page.waitForTimeout(100);
  }
  // Pictures further down come only when they are scrolled to.
  await page.waitForFunction(() => [...document.images].every((image) => image.complete || image.loading === 'lazy'));
}
