import type { Aspect, Figure, MarkId, MeasureName } from '../bridge/types';
import type { Spot } from './places';

/** What a person has chosen to see on the page. */
export class Look {
  aspect = $state<Aspect | null>(null);
  /** The figure whose places stay lit. */
  lit = $state<MeasureName | null>(null);
  /** The figure under the pointer, or with the focus. */
  glanced = $state<MeasureName | null>(null);
  mark = $state<MarkId | null>(null);
  /** The place that is told of. */
  spot = $state.raw<Spot | null>(null);

  /** The figure whose places light up now. */
  get shown(): MeasureName | null {
    return this.glanced ?? this.lit;
  }

  /** Shows one aspect, or hides it when it is shown already. */
  show(aspect: Aspect): void {
    this.turn(this.aspect === aspect ? null : aspect);
  }

  /** Shows an aspect, or none. */
  turn(aspect: Aspect | null): void {
    if (this.aspect !== aspect) this.spot = null;
    this.aspect = aspect;
    this.lit = null;
    this.glanced = null;
  }

  /** Lights up the places of a figure, or puts them out again. */
  light(figure: Figure): void {
    this.lit = this.lit === figure.name ? null : figure.name;
    if (this.aspect !== figure.aspect) this.spot = null;
    this.aspect = figure.aspect;
  }

  /** Lights up a figure's places for as long as it is looked at. */
  glance(figure: Figure | null): void {
    this.glanced = figure?.name ?? null;
  }

  /** Forgets what belongs to the page that was on the desk. */
  leavePage(): void {
    this.glanced = null;
    this.mark = null;
    this.spot = null;
  }
}
