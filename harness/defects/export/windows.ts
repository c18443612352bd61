// Defects of the period that is exported.
import { zoneOffset } from '../../pipeline/zone.ts';
import type { Select } from '../../pipeline/damage.ts';
import { defect } from '../defect.ts';

const window = (name: string, happens: string, cause: string, change: (sound: Select) => Select) =>
  defect(
    'export',
    { name, happens, breaks: ['window.exact'], cause },
    { select: (sound, read) => read(change(sound)) },
  );

const localOffset = zoneOffset('Europe/Lisbon');
const farOffset = zoneOffset('Asia/Kolkata');

const shifted = (offsetOf: (atMs: number) => number) => (sound: Select) => ({
  ...sound,
  parameters: sound.parameters.map((bound) => Number(bound) - offsetOf(Number(bound))),
});

export const WINDOW_DEFECTS = [
  window('from-excluded', 'The period is asked for with > instead of >=.', 'from-excluded', (sound) => ({
    ...sound,
    where: sound.where.replace('>=', '>'),
  })),
  window(
    'to-included',
    'The period is asked for with BETWEEN, which takes in both ends.',
    'to-included',
    (sound) => ({
      ...sound,
      where: 'at_ms BETWEEN ? AND ?',
    }),
  ),
  window(
    'window-in-local-time',
    "The bounds are read in the server's zone, far from UTC.",
    'window-shifted',
    shifted(farOffset),
  ),
  window(
    'window-in-summer-time',
    "The bounds are read in the server's zone, and only some of them in its summer.",
    'window-shifted',
    shifted(localOffset),
  ),
] as const;
