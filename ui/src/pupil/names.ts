import type { PupilId, PupilRow } from '../bridge/types';
import { words } from '../words/words';

/** A pupil's name, or what stands for it until it has arrived. */
export function nameOf(pupils: readonly PupilRow[] | undefined, pupil: PupilId): string {
  return pupils?.find((row) => row.pupil === pupil)?.profile?.name ?? words.general.noName;
}
