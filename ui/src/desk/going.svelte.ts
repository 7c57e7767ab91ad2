import type { PageView, PointMm } from '../bridge/types';
import { middleOf } from './boxes';
import type { Look } from './look.svelte';
import { type Spot, spotAgain, spotAt, spotsOf } from './places';
import type { Zoom } from './zoom.svelte';

/** Going over the places of the aspect that is shown. */
export class Going {
  readonly spots: Spot[];
  /** The place told of, as it stands in the reading of now. */
  readonly spot: Spot | null;

  constructor(
    readonly view: () => Pick<PageView, 'reading'>,
    readonly look: Look,
    readonly zoom: Zoom,
    readonly say: (sentence: string) => void,
  ) {
    this.spots = $derived.by(() => {
      const { reading } = view();
      return reading ? spotsOf(reading, look.aspect) : [];
    });
    this.spot = $derived(spotAgain(this.spots, look.spot));
  }

  /** Tells of what lies at a point, or no further from it than `reach`, in mm. */
  tap(at: PointMm, reach: number): Spot | null {
    const spot = spotAt(this.spots, at, reach);
    this.look.spot = spot;
    if (spot) this.say(spot.says);
    return spot;
  }

  /** Goes to a place and tells of it. */
  to(spot: Spot): void {
    this.look.spot = spot;
    this.zoom.reveal(middleOf(spot.at));
    this.say(spot.says);
  }

  next(by: 1 | -1): Spot | null {
    const { spots } = this;
    const now = spotAgain(spots, this.look.spot);
    return spots[now ? spots.indexOf(now) + by : by > 0 ? 0 : spots.length - 1] ?? null;
  }

  step(by: 1 | -1): void {
    const spot = this.next(by);
    if (spot) this.to(spot);
  }
}
