import type { Bridge, Verb } from '../bridge/bridge';
import type { Overview } from '../bridge/types';

const LOAD = 'load_example';

/** Whether the program has an invented practice to look at. The compiler holds it to the verbs that there are. */
export const HAS_EXAMPLE: typeof LOAD extends Verb ? true : false = false;

/** Makes this device a tutor's, with one invented pupil. */
export async function loadExample(bridge: Bridge): Promise<Overview> {
  const call = bridge.call.bind(bridge) as (verb: string, input: Record<string, never>) => Promise<unknown>;
  return (await call(LOAD, {})) as Overview;
}
