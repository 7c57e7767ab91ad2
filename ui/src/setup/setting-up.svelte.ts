import type { Bridge } from '../bridge/bridge';
import { Doing } from '../bridge/doing.svelte';
import type { Day, PupilId, SetUpCheck, SetUpItem } from '../bridge/types';

/** What is looked at, in the order of the drawings. */
export const SET_UP_ITEMS: readonly SetUpItem[] = ['seat', 'feet', 'table', 'paper', 'otherHand', 'light', 'hold'];

export type SetUpAnswer = 'fine' | 'notYet';

/** The look that was last taken, if it was in the week that begins on this day. */
export function lookedThisWeek(checks: readonly SetUpCheck[], monday: Day): SetUpCheck | null {
  return checks.find((check) => check.day >= monday) ?? null;
}

/** A look at how the child sits. Whatever is not answered was not looked at. */
export class SettingUp {
  answers = $state<Partial<Record<SetUpItem, SetUpAnswer>>>({});
  readonly doing = new Doing();

  constructor(
    readonly bridge: Bridge,
    readonly pupil: PupilId,
  ) {}

  /** Whether anything has been answered. */
  get begun(): boolean {
    return Object.values(this.answers).some((answer) => answer !== undefined);
  }

  /** Answers; the same answer again takes it back. */
  say(item: SetUpItem, answer: SetUpAnswer): void {
    this.answers[item] = this.answers[item] === answer ? undefined : answer;
  }

  /** Keeps what was answered; says whether it was kept. Nothing answered means that all is fine. */
  async save(): Promise<boolean> {
    const begun = this.begun;
    const those = (answer: SetUpAnswer) =>
      SET_UP_ITEMS.filter((item) => (begun ? this.answers[item] : 'fine') === answer);
    const kept = await this.doing.run(async () => {
      await this.bridge.call('add_set_up', { pupil: this.pupil, fine: those('fine'), notYet: those('notYet') });
    });
    if (kept) this.answers = {};
    return kept;
  }
}
