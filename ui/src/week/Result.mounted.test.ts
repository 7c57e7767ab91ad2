import { describe, expect, it } from 'vitest';
import { FakeBridge } from '../bridge/fake';
import type { Focus, PageRow, PageView, ProgressView, Verdict } from '../bridge/types';
import { pageOf } from '../pupil/sample';
import { overviewOf, show, textOf } from '../testing/mounted';
import { PAGE, pageViewOf, PUPIL } from '../testing/samples';
import Result from './Result.svelte';

const focus: Focus = { id: '9'.repeat(32), aspect: 'gaps', from: '2026-02-01', to: null, tryThis: 'One o before each word.' };
const parent = overviewOf({ device: { id: 'f'.repeat(32), role: 'parent', name: 'Kit' } });

interface Told {
  view?: Partial<PageView>;
  progress?: Partial<ProgressView>;
  row?: Partial<PageRow>;
  /** The page that was kept a moment ago. */
  kept?: string | null;
}

function result({ view = {}, progress = {}, row = {}, kept = null }: Told = {}) {
  const bridge = new FakeBridge();
  bridge.answers.page = pageViewOf({ figures: [], ...view });
  bridge.answers.progress = { pupil: PUPIL, charts: [], focuses: [focus], aspects: [], targets: [], ...progress };
  bridge.answers.pupil = {
    pupil: PUPIL,
    profile: null,
    tasks: [],
    pages: [pageOf({ page: PAGE, withTutor: true, lookedAt: false, ...row })],
    focuses: [],
    lettersAllowed: false,
    newer: false,
  };
  bridge.answers.draft = { text: null };
  return show(Result, { pupil: PUPIL, page: PAGE }, { bridge, overview: parent, before: (session) => (session.kept = kept), data: [focus.tryThis] });
}
const told = (verdict: Verdict, kind: 'copied' | 'dictated' = 'copied') => ({
  progress: { aspects: [{ aspect: 'gaps' as const, kind, verdict, pages: 6 }] },
});

describe('what a page says at home', () => {
  it.each([
    ['notYet', 'Even spaces: steady, with the ordinary up and down from page to page.'],
    ['better', 'Even spaces: better than before, by more than the ordinary up and down.'],
    ['worse', 'Even spaces: not as good as a while ago. The tutor sees this too.'],
    ['tooFewPages', 'Even spaces: too early to say, a few more pages will tell.'],
  ] as [Verdict, string][])('begins with one sentence on the focus: %s', async (verdict, sentence) => {
    const screen = await result(told(verdict));
    expect(screen.texts('paragraph')[0]).toBe(sentence);
  });

  it('takes no verdict from pages of another kind', async () => {
    const screen = await result(told('better', 'dictated'));
    expect(screen.texts('paragraph')[0]).toBe('Even spaces: not measured yet, the tutor looks at it by eye.');
  });

  it('thanks once, for the page that was kept a moment ago', async () => {
    const thanks = 'Thank you. The page is kept.';
    const screen = await result({ kept: PAGE });
    expect(screen.texts('paragraph')).toContain(thanks);
    expect(screen.session.kept).toBeNull();
    for (const kept of [null, '7'.repeat(32)]) expect((await result({ kept })).texts('paragraph')).not.toContain(thanks);
  });

  it('is headed by the day, and says what to try', async () => {
    const screen = await result();
    expect(textOf(screen.all('heading')[0] as HTMLElement)).toBe('Page of 4 March 2026');
    expect(textOf(screen.one('region', 'What to try'))).toBe('What to try One o before each word.');
  });

  it('without a focus says so and asks for nothing to try', async () => {
    const screen = await result({ progress: { focuses: [{ ...focus, to: '2026-02-20' }] } });
    expect(screen.texts('paragraph')[0]).toBe('The tutor has not set a focus yet.');
    expect(screen.all('region', 'What to try')).toEqual([]);
  });

  it('says that the tutor has looked, and leads to the marks', async () => {
    const screen = await result({ row: { lookedAt: true, marks: 2 } });
    expect(screen.texts('status')[0]).toContain('The tutor has looked at this page.');
    expect(screen.one('link', 'See what the tutor says').getAttribute('href')).toContain(PUPIL);
  });

  it('says that it is safe here where the tutor does not have it yet', async () => {
    const screen = await result({ row: { withTutor: false } });
    expect(textOf(screen.one('region', 'On its way to the tutor'))).toContain('The page is safe here');
  });

  it('has a way on where the text does not fit what is written', async () => {
    const reading = { ...pageViewOf().reading, text: { fits: false, skipped: [], agreement: 0.1 } };
    const screen = await result({ view: { reading: reading as unknown as PageView['reading'] } });
    expect(screen.all('heading').map(textOf)).toContain('The eight things looked at');
    expect(textOf(screen.root)).toContain('does not seem to be what is written here');
  });

  it('says that measuring is under way where there is no reading yet', async () => {
    const screen = await result({ view: { reading: null } });
    const eight = screen.one('region', 'The eight things looked at');
    expect(screen.all('heading', undefined, eight)).toHaveLength(1);
  });
});
