import type { Bridge } from '../bridge/bridge';
import { Doing } from '../bridge/doing.svelte';
import type { Day, MeasureName, PupilId, Target } from '../bridge/types';
import { meant, shown, type Standing } from './targets';

/** A target on its way to being set, or another in its place. */
export class Aiming {
  readonly doing = new Doing();
  open = $state(false);
  measure = $state<MeasureName | null>(null);
  /** As it is typed; `null` while nothing that is a number is. */
  value = $state<number | null>(null);
  by = $state('');

  constructor(
    readonly bridge: Bridge,
    readonly pupil: PupilId,
  ) {}

  /** Opens the form for a measure; with its target, or with where it stands now. */
  begin(measure: MeasureName | null, standings: readonly Standing[], target: Target | null = null): void {
    this.open = true;
    this.by = target?.by ?? '';
    this.pick(measure, standings, target);
  }

  pick(measure: MeasureName | null, standings: readonly Standing[], target: Target | null = null): void {
    this.measure = measure;
    const standing = standings.find((one) => one.measure === measure);
    const value = target?.value ?? standing?.now ?? null;
    this.value = standing && value !== null ? rounded(shown(value, standing.unit)) : null;
  }

  lay(): void {
    this.open = false;
  }

  /** Sets it; says whether it ended well. */
  async send(standings: readonly Standing[]): Promise<boolean> {
    const { measure, value } = this;
    const unit = standings.find((one) => one.measure === measure)?.unit;
    if (measure === null || value === null || unit === undefined) return false;
    const target: Target = { measure, value: meant(value, unit), by: this.#day() };
    const sent = await this.doing.run(async () => {
      await this.bridge.call('set_target', { pupil: this.pupil, target });
    });
    if (sent) this.lay();
    return sent;
  }

  drop(measure: MeasureName): Promise<boolean> {
    return this.doing.run(async () => {
      await this.bridge.call('drop_target', { pupil: this.pupil, measure });
    });
  }

  #day(): Day | null {
    return this.by === '' ? null : this.by;
  }
}

function rounded(value: number): number {
  return Math.round(value * 100) / 100;
}
