import type { Bridge } from '../bridge/bridge';
import type { Overview } from '../bridge/types';

/** Makes this device a tutor's, with one invented pupil. */
export function loadExample(bridge: Bridge): Promise<Overview> {
  return bridge.call('load_example', {});
}
