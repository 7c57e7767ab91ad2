import { type Bridge, type Connection, cropPath, exportPath, type Input, Listeners, type Output, Refused, type Verb } from './bridge';
import type { Crop, Event, Problem, Staged, TakenPhoto } from './types';

/** A bridge for tests: answers what it was told to answer and remembers what it was asked. */
export class FakeBridge implements Bridge {
  readonly calls: [Verb, unknown][] = [];
  answers: Partial<{ [V in Verb]: Output<V> }> = {};
  refusals: Partial<Record<Verb, Problem>> = {};
  /** The passphrase that opens; `null` where none does. */
  passphrase: string | null = null;
  /** What is said of any other. */
  locked: Problem = { code: 'wrong-passphrase', message: 'a', whatToDo: 'b' };
  readonly events = new Listeners<Event>();
  readonly connections = new Listeners<Connection>();

  async call<V extends Verb>(verb: V, input: Input<V>): Promise<Output<V>> {
    this.calls.push([verb, input]);
    const problem = this.refusals[verb];
    if (problem) throw new Refused(problem);
    const answer = this.answers[verb];
    if (answer === undefined) throw new Error(`no answer for ${verb}`);
    return answer as Output<V>;
  }

  async stagePhoto(_file: Blob, _taken: TakenPhoto): Promise<Staged> {
    throw new Error('no photographs in this test');
  }

  pictureUrl = (picture: string) => `picture:${picture}`;
  thumbUrl = (picture: string) => `thumb:${picture}`;
  cropUrl = (crop: Crop) => cropPath(crop);
  stagedUrl = (handle: string) => `staged:${handle}`;
  photoUrl = (handle: string) => `photo:${handle}`;
  smallPhotoUrl = (handle: string) => `small:${handle}`;
  exportAddress = (pupil: string) => exportPath(pupil);
  unlock = async (passphrase: string) => {
    if (passphrase !== this.passphrase) throw new Refused(this.locked);
  };
  onEvent = (hear: (event: Event) => void) => this.events.add(hear);
  onConnection = (hear: (connection: Connection) => void) => this.connections.add(hear);
}
