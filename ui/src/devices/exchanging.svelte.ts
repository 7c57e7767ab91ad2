import type { Bridge } from '../bridge/bridge';
import { Doing } from '../bridge/doing.svelte';
import type { Meeting } from '../bridge/types';
import { words } from '../words/words';
import { deviceName } from './names';

/** Meetings with the other devices that a person asks for. */
export class Exchanging {
  readonly doing = new Doing();
  readonly stopping = new Doing();
  /** How the last ones went; `null` before, and while they run. */
  meetings = $state.raw<Meeting[] | null>(null);

  constructor(readonly bridge: Bridge) {}

  /** Says whether the program gave an answer; a device out of reach is one. */
  async exchange(): Promise<boolean> {
    return this.doing.run(async () => {
      this.meetings = null;
      this.meetings = (await this.bridge.call('exchange', { device: null })).meetings;
    });
  }

  /** Ends the meetings that run. Their answer comes all the same. */
  async stop(): Promise<void> {
    await this.stopping.run(async () => {
      await this.bridge.call('stop_exchange', {});
    });
  }
}

/** How a meeting went, sentence by sentence. */
export function meetingText(meeting: Meeting): string[] {
  const t = words.devices;
  const name = deviceName(meeting.name);
  if (meeting.problem) return [t.metNot(name, meeting.problem.message, meeting.problem.whatToDo)];
  const sent = meeting.sentChanges + meeting.sentBlobs;
  const received = meeting.receivedChanges + meeting.receivedBlobs;
  const said = [sent + received === 0 ? t.metNothing(name) : t.met1(name, sent, received)];
  if (meeting.refusedChanges > 0) said.push(t.refused(meeting.refusedChanges));
  return said;
}
