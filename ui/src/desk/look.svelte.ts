import type { Aspect, Figure, MarkId, MeasureName } from '../bridge/types';

/** What a person has chosen to see on the page. */
export class Look {
  aspect = $state<Aspect | null>(null);
  lit = $state<MeasureName | null>(null);
  mark = $state<MarkId | null>(null);

  /** Shows one aspect, or hides it when it is shown already. */
  show(aspect: Aspect): void {
    this.aspect = this.aspect === aspect ? null : aspect;
    this.lit = null;
  }

  /** Lights up the places of a figure, or puts them out again. */
  light(figure: Figure): void {
    this.lit = this.lit === figure.name ? null : figure.name;
    this.aspect = figure.aspect;
  }
}
