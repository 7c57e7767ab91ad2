import type { PupilRow } from '../bridge/types';
import { nameOf } from '../pupil/names';
import { words } from '../words/words';
import type { Opening } from './carrying.svelte';

/** What came of a file, sentence by sentence. */
export function openingText(opening: Opening, pupils: readonly PupilRow[] | undefined): string[] {
  const t = words.carry;
  if ('problem' in opening) {
    const { message, whatToDo } = opening.problem;
    return [t.ofFile(opening.file, message, whatToDo)];
  }
  const { pupil, newChanges, newBlobs, refusedChanges, part, parts, waits } = opening.brought;
  const name = nameOf(pupils, pupil);
  const said = [newChanges + newBlobs > 0 ? t.brought(name, newChanges, newBlobs) : t.nothing(name)];
  if (parts > 1) said.push(t.part(part, parts));
  if (waits) said.push(t.waits);
  if (refusedChanges > 0) said.push(words.devices.refused(refusedChanges));
  return said;
}
