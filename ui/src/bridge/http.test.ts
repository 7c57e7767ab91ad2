import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { type Connection, NO_CONNECTION, NOT_UNDERSTOOD, Refused, SESSION_ENDED } from './bridge';
import { HttpBridge, secretOf } from './http';
import type { Event } from './types';

const json = (status: number, body: unknown) => new Response(JSON.stringify(body), { status });
const fetched = vi.fn<typeof fetch>();

class Stream {
  static CLOSED = 2;
  static last: Stream;
  readyState = 1;
  onmessage?: (message: { data: string }) => void;
  onopen?: () => void;
  onerror?: () => void;
  constructor(readonly url: string) {
    Stream.last = this;
  }
  close() {
    this.readyState = Stream.CLOSED;
  }
}

beforeEach(() => {
  fetched.mockReset();
  vi.stubGlobal('fetch', fetched);
  vi.stubGlobal('EventSource', Stream);
});
afterEach(() => vi.unstubAllGlobals());

async function codeOf(promise: Promise<unknown>): Promise<string> {
  const error = await promise.then(
    () => null,
    (reason: unknown) => reason,
  );
  expect(error).toBeInstanceOf(Refused);
  return (error as Refused).problem.code;
}

it('addresses a crop by its picture and its pixels', () => {
  const crop = { of: 'ab12', x: 3, y: 40, width: 50, height: 60 };
  expect(new HttpBridge().cropUrl(crop)).toBe('/crop/ab12/3-40-50-60.jpg');
});

it('addresses a photograph that waits by its handle, whole and small', () => {
  expect(new HttpBridge().photoUrl('a/b')).toBe('/photo/a%2Fb.jpg');
  expect(new HttpBridge().smallPhotoUrl('a/b')).toBe('/photo/a%2Fb/small.jpg');
});

it('addresses all of a pupil by its id', () => {
  expect(new HttpBridge().exportAddress('0a1b')).toBe('/export/0a1b.zip');
});

describe('the secret of the address', () => {
  it('is read from the fragment only', () => {
    expect(secretOf('#s=Ab-9_x')).toBe('Ab-9_x');
    for (const other of ['', '#', '#/home', '#s=', '#s=a b', '#x=1']) expect(secretOf(other)).toBeNull();
  });

  it('is changed for a session', async () => {
    fetched.mockResolvedValue(json(200, {}));
    await new HttpBridge().openSession('abc');
    const [path, request] = fetched.mock.calls[0] ?? [];
    expect([path, request?.method, request?.body]).toEqual(['/session', 'POST', '{"secret":"abc"}']);
  });
});

describe('a call', () => {
  it('posts its input as JSON and gives back the answer', async () => {
    fetched.mockResolvedValue(json(200, { pupils: [] }));
    expect(await new HttpBridge().call('pupils', {})).toEqual({ pupils: [] });
    expect(fetched.mock.calls[0]?.[0]).toBe('/call/pupils');
  });

  it('hands a problem on as the program told it', async () => {
    fetched.mockResolvedValue(json(422, { code: 'no-such-page', message: 'a', whatToDo: 'b' }));
    expect(await codeOf(new HttpBridge().call('pupils', {}))).toBe('no-such-page');
  });

  it('says so when the answer is no problem either', async () => {
    fetched.mockResolvedValue(new Response('<html>', { status: 500 }));
    expect(await codeOf(new HttpBridge().call('pupils', {}))).toBe(NOT_UNDERSTOOD);
  });

  it('tells that nobody answers, and that somebody does again', async () => {
    const bridge = new HttpBridge();
    const heard: Connection[] = [];
    bridge.onConnection((connection) => heard.push(connection));
    fetched.mockRejectedValueOnce(new TypeError('refused'));
    expect(await codeOf(bridge.call('pupils', {}))).toBe(NO_CONNECTION);
    fetched.mockResolvedValueOnce(json(200, {}));
    await bridge.call('overview', {});
    expect(heard).toEqual(['lost', 'open']);
  });

  it('tells that the session is gone', async () => {
    const bridge = new HttpBridge();
    const heard: Connection[] = [];
    bridge.onConnection((connection) => heard.push(connection));
    fetched.mockResolvedValue(json(401, { code: 'x', message: 'a', whatToDo: 'b' }));
    expect(await codeOf(bridge.call('pupils', {}))).toBe(SESSION_ENDED);
    expect(heard).toEqual(['ended']);
  });
});

describe('a photograph', () => {
  it('goes as it is, with what it answers in the address', async () => {
    fetched.mockResolvedValue(json(200, { handle: 'h' }));
    const file = new Blob([new Uint8Array([1, 2, 3])]);
    const about = { pupil: 'p', task: null, kind: 'copied', writtenOn: null, insteadOf: null } as const;
    await new HttpBridge().stagePhoto(file, about);
    const [path, request] = fetched.mock.calls[0] ?? [];
    expect(request?.body).toBe(file);
    const query = new URL(String(path), 'http://x').searchParams.get('about');
    expect(JSON.parse(query ?? '')).toEqual(about);
  });
});

describe('events', () => {
  it('reach every listener until it leaves', () => {
    const bridge = new HttpBridge();
    const heard: Event[] = [];
    const leave = bridge.onEvent((event) => heard.push(event));
    bridge.listen();
    Stream.last.onmessage?.({ data: '{"event":"pairing"}' });
    Stream.last.onmessage?.({ data: 'not json' });
    leave();
    Stream.last.onmessage?.({ data: '{"event":"pairing"}' });
    expect(heard).toEqual([{ event: 'pairing' }]);
  });

  it('after a break everything counts as changed', () => {
    const bridge = new HttpBridge();
    const heard: Event[] = [];
    bridge.onEvent((event) => heard.push(event));
    bridge.listen();
    Stream.last.onopen?.();
    expect(heard).toEqual([]);
    Stream.last.onerror?.();
    Stream.last.onopen?.();
    expect(heard).toEqual([{ event: 'changed', pupil: null }]);
  });
});
