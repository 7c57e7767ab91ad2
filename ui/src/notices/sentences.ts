import type { DeviceId, DeviceRow, Notice, PupilId, PupilRow } from '../bridge/types';
import { words } from '../words/words';

/** Who is who, as far as it is known. */
export interface Known {
  pupils: readonly PupilRow[] | undefined;
  devices: readonly DeviceRow[] | undefined;
  /** This device, which is in no list. */
  own: DeviceId | undefined;
}

export function noticeText(notice: Notice, known: Known): string {
  const t = words.notices;
  const device = (id: DeviceId) =>
    id === known.own ? t.ownDevice : known.devices?.find((row) => row.device === id)?.name || t.unnamed;
  const pupil = (id: PupilId) => known.pupils?.find((row) => row.pupil === id)?.profile?.name ?? t.aPupil;
  switch (notice.notice) {
    case 'lateEditsDropped':
      return t.late(pupil(notice.pupil), notice.edits);
    case 'erased':
      return t.erased;
    case 'refused':
      return t.refused(notice.changes, device(notice.from), device(notice.author));
    case 'cutOff':
      return t.cutOff(notice.changes, pupil(notice.pupil), device(notice.author));
    case 'unfinished':
      return t.unfinished(notice.problem.message, notice.problem.whatToDo);
  }
}
