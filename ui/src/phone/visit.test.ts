import { beforeEach, describe, expect, it, vi } from 'vitest';
import { type Link, LinkFailed, type Failed } from './link';
import { Visit } from './visit.svelte';

const PULSE = { secondsLeft: 900, turnedAway: 0 };
const LOOKED = { handle: 'h', fit: true, advice: [], widthPx: 10, heightPx: 14 };
const OUTCOME = { writtenOn: '2026-03-04', focus: null, figures: [], textFits: null };
const task = (id: string, answered: boolean) => ({ task: { id }, answered });
const photo = (size = 10) => new File([new Uint8Array(size)], 'page.jpg', { type: 'image/jpeg' });

type Answer = object | Failed | { problem: { code: string; message: string; whatToDo: string } };

/** A way to a program that answers each kind of question as told; `asked` is what it heard. */
function scene(answers: Record<string, Answer> = {}, now = { value: 0 }) {
  const asked: string[] = [];
  const told: Record<string, Answer> = {
    week: { name: 'Nell', tasks: [task('t1', false)], tryThis: '' },
    look: {},
    photo: LOOKED,
    keep: { page: 'p1' },
    drop: {},
    result: OUTCOME,
    ...answers,
  };
  const answer = (ask: string) => {
    asked.push(ask);
    const said = told[ask] ?? {};
    if (typeof said === 'string') throw new LinkFailed(said);
    const refused = 'problem' in said;
    return { pulse: PULSE, done: refused ? null : said, problem: refused ? said.problem : null, picture: new Uint8Array(3) };
  };
  const link = {
    busy: false,
    forget: () => asked.push('forget'),
    greet: async () => answer('greet').problem,
    ask: async (ask: string, _: object, __?: Uint8Array, sent?: (share: number) => void) => {
      sent?.(1);
      return answer(ask);
    },
  } as unknown as Link;
  const visit = new Visit(link, () => now.value);
  return { visit, asked, told, now };
}

beforeEach(() => {
  vi.stubGlobal('URL', { createObjectURL: () => 'blob:1', revokeObjectURL: () => undefined });
});

const soon = () => new Promise((done) => setTimeout(done));

describe('a visit', () => {
  it('goes from the code to what the page shows', async () => {
    const { visit, asked } = scene();
    await visit.begin();
    expect([visit.at, visit.task]).toEqual(['ready', 't1']);
    await visit.send(photo());
    expect([visit.at, visit.looked?.fit, visit.preview, visit.photo]).toEqual(['looked', true, 'blob:1', null]);
    await visit.keep();
    await soon();
    expect([visit.at, visit.outcome, visit.preview]).toEqual(['outcome', OUTCOME, null]);
    await visit.next();
    expect([visit.at, visit.outcome]).toEqual(['ready', null]);
    expect(asked).toEqual(['greet', 'week', 'look', 'photo', 'keep', 'result', 'week']);
  });

  it('offers the newest task that no page answers yet', async () => {
    const { visit } = scene({ week: { name: null, tasks: [task('new', true), task('old', false)], tryThis: '' } });
    await visit.begin();
    expect(visit.task).toBe('old');
  });

  it('says so where another phone has used the code', async () => {
    const { visit, asked } = scene({ greet: { problem: { code: 'code-used', message: 'a', whatToDo: 'b' } } });
    await visit.begin();
    expect([visit.at, visit.ending, visit.problem]).toEqual(['ended', 'used', null]);
    expect(asked).toEqual(['greet', 'forget']);
  });

  it.each([
    ['wrong', 'wrong'],
    ['over', 'expired'],
  ] as const)('ends where the program says “%s”', async (why, ending) => {
    const { visit } = scene({ week: why });
    await visit.begin();
    expect([visit.at, visit.ending]).toEqual(['ended', ending]);
  });

  it('is none without a code', async () => {
    const visit = new Visit(null);
    await visit.begin();
    expect([visit.at, visit.ending]).toEqual(['ended', 'none']);
  });

  it('holds the photograph when the connection is lost, and sends it again', async () => {
    const { visit, told } = scene({ photo: 'lost' });
    await visit.begin();
    const taken = photo();
    await visit.send(taken);
    expect([visit.at, visit.trouble, visit.photo, visit.canTryAgain]).toEqual(['ready', 'lost', taken, true]);
    told.photo = LOOKED;
    await visit.tryAgain();
    expect([visit.at, visit.trouble, visit.canTryAgain]).toEqual(['looked', null, false]);
  });

  it('asks again whether a page was kept, and goes on', async () => {
    const { visit, told, asked } = scene({ keep: 'lost' });
    await visit.begin();
    await visit.send(photo());
    await visit.keep();
    expect([visit.at, visit.trouble, visit.looked]).toEqual(['looked', 'lost', LOOKED]);
    told.keep = { page: 'p1' };
    await visit.tryAgain();
    await soon();
    expect(visit.at).toBe('outcome');
    expect(asked.filter((ask) => ask === 'keep').length).toBe(2);
  });

  it('says that the page is kept though what it shows is still to come', async () => {
    const { visit, told } = scene({ result: 'lost' });
    await visit.begin();
    await visit.send(photo());
    await visit.keep();
    await soon();
    expect([visit.at, visit.outcome, visit.trouble]).toEqual(['outcome', null, 'lost']);
    told.result = OUTCOME;
    await visit.tryAgain();
    expect(visit.outcome).toEqual(OUTCOME);
  });

  it('shows what the program says of a photograph', async () => {
    const heic = { code: 'photo-heic', message: 'a', whatToDo: 'b' };
    const { visit } = scene({ photo: { problem: heic } });
    await visit.begin();
    await visit.send(photo());
    expect([visit.at, visit.problem, visit.canTryAgain]).toEqual(['ready', heic, false]);
  });

  it('does not send what is too large', async () => {
    const { visit, asked } = scene();
    await visit.begin();
    const large = photo();
    Object.defineProperty(large, 'size', { value: 40 * 1024 * 1024 + 1 });
    await visit.send(large);
    expect([visit.at, visit.problem?.code]).toEqual(['ready', 'photo-too-large']);
    expect(asked).not.toContain('photo');
  });

  it('drops what is not to be kept', async () => {
    const { visit, asked } = scene();
    await visit.begin();
    await visit.send(photo());
    await visit.drop();
    expect([visit.at, visit.looked]).toEqual(['ready', null]);
    expect(asked.at(-1)).toBe('drop');
  });

  it('notices by itself that nobody answers, and that somebody does again', async () => {
    const { visit, told } = scene();
    await visit.begin();
    told.look = 'lost';
    await visit.look();
    expect([visit.at, visit.trouble, visit.canTryAgain]).toEqual(['ready', 'lost', false]);
    told.look = {};
    await visit.look();
    expect(visit.trouble).toBe(null);
  });

  it('takes silence after its time for its end', async () => {
    const { visit, told, now } = scene();
    await visit.begin();
    told.look = 'lost';
    now.value = 899_000;
    await visit.look();
    expect(visit.ending).toBe(null);
    now.value = 900_000;
    await visit.look();
    expect(visit.ending).toBe('expired');
  });
});
