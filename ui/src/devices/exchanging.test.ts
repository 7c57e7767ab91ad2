import { describe, expect, it } from 'vitest';
import type { Bridge } from '../bridge/bridge';
import { FakeBridge } from '../bridge/fake';
import type { Meeting } from '../bridge/types';
import { Exchanging, meetingText } from './exchanging.svelte';

const meeting: Meeting = {
  device: 'd', name: 'Jo', sentChanges: 0, receivedChanges: 0, sentBlobs: 0, receivedBlobs: 0, refusedChanges: 0, problem: null,
};

describe('an exchange', () => {
  it('tells how each meeting went', async () => {
    const bridge = new FakeBridge();
    bridge.answers.exchange = { meetings: [meeting] };
    const exchanging = new Exchanging(bridge);
    expect(await exchanging.exchange()).toBe(true);
    expect(bridge.calls).toEqual([['exchange', { device: null }]]);
    expect(exchanging.meetings).toEqual([meeting]);
  });

  it('that cannot be had leaves nothing of the one before', async () => {
    const bridge = new FakeBridge();
    bridge.answers.exchange = { meetings: [meeting] };
    const exchanging = new Exchanging(bridge);
    await exchanging.exchange();
    bridge.refusals.exchange = { code: 'no-device', message: 'a', whatToDo: 'b' };
    expect(await exchanging.exchange()).toBe(false);
    expect([exchanging.meetings, exchanging.doing.problem?.code]).toEqual([null, 'no-device']);
  });

  it('that runs can be stopped, and is still answered', async () => {
    const bridge = new FakeBridge();
    bridge.answers.stop_exchange = {};
    let answer: (value: { meetings: Meeting[] }) => void = () => undefined;
    const call = bridge.call.bind(bridge) as Bridge['call'];
    const slowly = new Promise<{ meetings: Meeting[] }>((done) => (answer = done));
    bridge.call = ((verb, input) => (verb === 'exchange' ? slowly : call(verb, input))) as Bridge['call'];
    const exchanging = new Exchanging(bridge);
    const running = exchanging.exchange();
    expect(exchanging.doing.busy).toBe(true);
    await exchanging.stop();
    expect(bridge.calls).toEqual([['stop_exchange', {}]]);
    expect(exchanging.doing.busy).toBe(true);
    const stopped = { code: 'stopped', message: 'It was stopped.', whatToDo: 'Go on later.' };
    answer({ meetings: [{ ...meeting, problem: stopped }] });
    expect(await running).toBe(true);
    expect(exchanging.meetings?.map(meetingText)).toEqual([['Jo: It was stopped. Go on later.']]);
  });
});

describe('how a meeting went', () => {
  it('counts changes with pictures, each way apart', () => {
    const both = { ...meeting, sentChanges: 2, sentBlobs: 1, receivedChanges: 4, receivedBlobs: 3 };
    expect(meetingText(both)).toEqual(['Jo: 3 sent, 7 received.']);
    expect(meetingText(meeting)).toEqual(['Jo: both sides had everything already.']);
  });

  it('says what was refused, and calls a device without a name something', () => {
    expect(meetingText({ ...meeting, name: '', refusedChanges: 1 })).toEqual([
      'A device without a name: both sides had everything already.',
      '1 change was refused.',
    ]);
  });
});
