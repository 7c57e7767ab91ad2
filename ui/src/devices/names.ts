import type { DeviceId, DeviceRow, Role } from '../bridge/types';
import { words } from '../words/words';

/** A device's name, or what stands for one that nobody has named. */
export function deviceName(name: string): string {
  return name || words.general.noDeviceName;
}

export function deviceNameOf(devices: readonly DeviceRow[] | undefined, device: DeviceId): string {
  return deviceName(devices?.find((row) => row.device === device)?.name ?? '');
}

/** Whose a device is, as seen from one of these. */
export function whose(mine: Role, theirs: Role): string {
  const t = words.devices.whose;
  if (theirs === 'parent') return t.family;
  return mine === 'tutor' ? t.own : t.tutor;
}
