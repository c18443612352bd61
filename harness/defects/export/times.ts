// Defects of how a time is written.
import type { Damage } from '../../pipeline/damage.ts';
import { zoneOffset } from '../../pipeline/zone.ts';
import { defect } from '../defect.ts';
import { writing } from '../tools.ts';

const time = (name: string, happens: string, cause: string, damage: Damage) =>
  defect('export', { name, happens, breaks: ['values.time'], cause }, damage);

/** Writes local time of `zone` in the place of UTC. */
function inZone(zone: string): Damage {
  const offsetOf = zoneOffset(zone);
  return {
    cell: (sound, column) =>
      column.form.kind === 'time' ? (value) => sound(Number(value) + offsetOf(Number(value))) : sound,
  };
}

const twelve = (hour: string): string => String(Number(hour) % 12 || 12).padStart(2, '0');

export const TIME_DEFECTS = [
  defect(
    'export',
    {
      name: 'local-time-marked-z',
      happens: 'A formatter writes local time, and the Z is part of its pattern.',
      breaks: ['values.time'],
      cause: 'constant-offset',
      // A column of local time looks the same, and is more usual.
      hop: 'store',
    },
    inZone('Asia/Kolkata'),
  ),
  time(
    'summer-time-marked-z',
    'A formatter writes local time with a Z, in a zone with summer time.',
    'zone-with-summer-time',
    inZone('Europe/Lisbon'),
  ),
  time(
    'day-month-swapped',
    'The pattern has day and month the other way round.',
    'day-month-swapped',
    writing('time', (text) => text.replace(/-(\d\d)-(\d\d)/, '-$2-$1')),
  ),
  time(
    'twelve-hour-clock',
    'The pattern has the letter for hours from 1 to 12.',
    'twelve-hour-clock',
    writing('time', (text) => text.replace(/T(\d\d)/, (_, hour: string) => `T${twelve(hour)}`)),
  ),
] as const;
