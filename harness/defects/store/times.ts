// Defects of time on its way into the store.
import { DAY_MS, SECOND_MS } from '../../../sim/index.ts';
import { zoneOffset } from '../../pipeline/zone.ts';
import type { Row } from '../../pipeline/row.ts';
import { defect } from '../defect.ts';
import { placeOf, storingNumbers } from '../tools.ts';

const CLOCK = placeOf('clock');
/** GPS time was ahead of UTC by this much from 2017 on (IERS Bulletin C 52). */
const GPS_MINUS_UTC_MS = 18 * SECOND_MS;
/** The week number has ten bits (IS-GPS-200). */
const ROLL_OVER_MS = 1024 * 7 * DAY_MS;

const time = (name: string, happens: string, cause: string, change: (atMs: number, row: Row) => number) =>
  defect('store', { name, happens, breaks: ['values.time'], cause }, storingNumbers(['at_ms'], change));

const steadyOffset = zoneOffset('Asia/Kolkata');
const summerOffset = zoneOffset('Europe/Lisbon');

export const TIME_DEFECTS = [
  time(
    'whole-seconds',
    'The time column has no fraction of a second.',
    'sub-second-lost',
    (atMs) => Math.floor(atMs / SECOND_MS) * SECOND_MS,
  ),
  time(
    'zone-as-utc',
    "Times are stored as the server's local time, whose zone is hours from UTC, and read back as UTC.",
    'constant-offset',
    (atMs) => atMs + steadyOffset(atMs),
  ),
  time(
    'summer-time-wrong',
    "The server's local time is stored as if it were UTC, in a zone with summer time.",
    'zone-with-summer-time',
    (atMs) => atMs + summerOffset(atMs),
  ),
  time(
    'gps-week',
    'Ten bits of a GPS week number are read as if they had never rolled over since.',
    'gps-week',
    (atMs, row) => (row[CLOCK] === 'gnss' ? atMs - ROLL_OVER_MS : atMs),
  ),
  time('leap-seconds', 'GPS time is taken for UTC, without its leap seconds.', 'gps-utc', (atMs, row) =>
    row[CLOCK] === 'gnss' ? atMs + GPS_MINUS_UTC_MS : atMs,
  ),
] as const;
