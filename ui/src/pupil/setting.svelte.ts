import type { Bridge } from '../bridge/bridge';
import { Doing } from '../bridge/doing.svelte';
import type { Aspect, Paper, Profile, PupilId, Ruling, Task, TaskKind } from '../bridge/types';
import type { KeepingDraft } from '../kit/keeping-draft.svelte';
import { linesOf } from './usual';

const USUAL_MINUTES = 10;

export interface SettingFrom {
  pupil: PupilId;
  profile: Profile;
  /** The task before: kind, minutes and aspect are taken from it, so that a week needs few changes. */
  last: Task | null;
  focus: Aspect | null;
}

/** A task on its way to being set. */
export class Setting {
  readonly doing = new Doing();
  kind = $state<TaskKind>('copied');
  minutes = $state(USUAL_MINUTES);
  aspect = $state<Aspect | null>(null);
  paper = $state<Paper>('a4');
  ruling = $state<Ruling>({ kind: 'plain' });
  /** What was typed before another text took its place. */
  before = $state<string | null>(null);
  readonly lastText: string | null;

  constructor(
    readonly bridge: Bridge,
    readonly from: SettingFrom,
    readonly text: KeepingDraft,
  ) {
    const { profile, last, focus } = from;
    this.kind = last?.kind ?? 'copied';
    this.minutes = last?.minutes ?? USUAL_MINUTES;
    this.aspect = focus ?? last?.focus ?? null;
    this.paper = profile.paper;
    this.ruling = structuredClone(profile.ruling);
    this.lastText = last?.text?.join('\n') ?? null;
  }

  /** Whether the text is written by the child alone. */
  get own(): boolean {
    return this.kind === 'ownWords';
  }

  /** Takes a text that is ready. What a person had typed can be had back. */
  take(text: string): void {
    const typed = this.text.text;
    if (typed === text) return;
    this.before = typed.trim() === '' ? null : typed;
    this.text.text = text;
  }

  /** Takes what was typed before back. */
  back(): void {
    if (this.before === null) return;
    this.text.text = this.before;
    this.before = null;
  }

  /** Sets the task; says whether it ended well. */
  send(): Promise<boolean> {
    return this.doing.run(async () => {
      await this.bridge.call('set_task', {
        pupil: this.from.pupil,
        kind: this.kind,
        text: this.own ? null : linesOf(this.text.text),
        paper: this.paper,
        ruling: $state.snapshot(this.ruling),
        minutes: this.minutes,
        focus: this.aspect,
        setOn: null,
      });
      await this.text.drop();
    });
  }
}
