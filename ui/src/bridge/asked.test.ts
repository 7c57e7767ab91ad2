import { describe, expect, it } from 'vitest';
import { anyChange, Asked, ofPupil } from './asked.svelte';
import { FakeBridge } from './fake';

const settled = () => new Promise((done) => setTimeout(done, 0));

describe('a view', () => {
  it('is asked for at once and again when an event concerns it', async () => {
    const bridge = new FakeBridge();
    bridge.answers.pupils = { pupils: [] };
    const view = new Asked(bridge, 'pupils', {}, anyChange);
    await settled();
    expect(view.value).toEqual({ pupils: [] });
    bridge.events.tell({ event: 'pairing' });
    bridge.events.tell({ event: 'moving', device: 'd', received: 1, toReceive: null, sent: 0 });
    bridge.events.tell({ event: 'changed', pupil: 'p' });
    await settled();
    expect(bridge.calls).toHaveLength(2);
  });

  it('answers a burst of events by one more call', async () => {
    const bridge = new FakeBridge();
    bridge.answers.pupils = { pupils: [] };
    new Asked(bridge, 'pupils', {}, anyChange);
    for (let n = 0; n < 20; n += 1) bridge.events.tell({ event: 'changed', pupil: null });
    await settled();
    expect(bridge.calls).toHaveLength(2);
  });

  it('keeps what it had when it could not be asked again', async () => {
    const bridge = new FakeBridge();
    bridge.answers.pupils = { pupils: [] };
    const view = new Asked(bridge, 'pupils', {}, anyChange);
    await settled();
    bridge.refusals.pupils = { code: 'busy', message: 'a', whatToDo: 'b' };
    await view.ask();
    expect([view.value, view.problem?.code]).toEqual([{ pupils: [] }, 'busy']);
  });

  it('is deaf once it is closed', async () => {
    const bridge = new FakeBridge();
    bridge.answers.pupils = { pupils: [] };
    const view = new Asked(bridge, 'pupils', {}, anyChange);
    await settled();
    view.close();
    bridge.events.tell({ event: 'changed', pupil: null });
    await settled();
    expect(bridge.calls).toHaveLength(1);
  });

  it('of one pupil hears of that pupil and of changes to the list', () => {
    const concerns = ofPupil('p');
    expect(concerns({ event: 'changed', pupil: 'p' })).toBe(true);
    expect(concerns({ event: 'changed', pupil: null })).toBe(true);
    expect(concerns({ event: 'changed', pupil: 'q' })).toBe(false);
    expect(concerns({ event: 'met', device: 'd', ok: true })).toBe(false);
  });

  it('of one pupil hears of a picture that arrived, whosever it is', () => {
    expect(ofPupil('p')({ event: 'arrived' })).toBe(true);
  });
});
