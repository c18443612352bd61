// Why a time is another time than was measured. From the specific to the general.
import { DAY_MS, utcText } from '../../sim/index.ts';
import type { Hypothesis } from './hypothesis.ts';
import type { CellInstance } from './instances.ts';
import { bestChange, change, type Change } from './cells.ts';
import { DISPLACED, OTHER_ROW, SHIFTED_CELLS } from './displaced.ts';
import { foundMs, unitMsOf } from './instants.ts';
import { OFFSET, GPS_UTC, GPS_WEEK, SUMMER_TIME } from './offsets.ts';

const DAY_MONTH = change(
  'day-month-swapped',
  'Day and month changed places wherever the day is 12 or less: dates were parsed by the habit of another country.',
  'export',
  () => ({
    say: 'found = expected with day and month exchanged',
    explains: ({ cell, expected }) =>
      cell !== expected && (cell === dayMonthSwapped(expected) || isSwapped(cell, expected)),
    wouldBreak: ({ expected }) => {
      const swapped = dayMonthSwapped(expected);
      return swapped !== undefined && swapped !== expected;
    },
  }),
);

function dayMonthSwapped(text: string): string | undefined {
  const match = /^(\d{4})-(\d\d)-(\d\d)(.*)$/.exec(text);
  return match && Number(match[3]) <= 12 ? `${match[1]}-${match[3]}-${match[2]}${match[4]}` : undefined;
}

/** Where the offset or the digits differ too, the date alone is compared. */
function isSwapped(cell: string, expected: string): boolean {
  const [a, b] = [cell.slice(0, 10), dayMonthSwapped(expected)?.slice(0, 10)];
  return a === b && a !== expected.slice(0, 10) && cell.slice(11, 19) === expected.slice(11, 19);
}

const TWELVE_HOURS = change(
  'twelve-hour-clock',
  'Hours are written by a clock of twelve, so that the afternoon reads as the morning.',
  'export',
  () => ({
    say: 'found = expected with its hour counted to twelve',
    explains: ({ cell, expected }) =>
      cell !== expected && twelveHours(expected).some((text) => cell.startsWith(text)),
    wouldBreak: ({ expected }) =>
      twelveHours(expected).length > 0 && !expected.startsWith(twelveHours(expected)[0] ?? ''),
  }),
);

/** Date and time to the second by a clock of twelve, spelt with 12 or 00 at noon. */
function twelveHours(text: string): readonly string[] {
  const match = /^(\d{4}-\d\d-\d\d[T ])(\d\d)(:\d\d:\d\d)/.exec(text);
  if (!match) return [];
  const hour = Number(match[2]) % 12;
  const spellings = hour === 0 ? ['12', '00'] : [String(hour).padStart(2, '0')];
  return spellings.map((spelt) => `${match[1]}${spelt}${match[3]}`);
}

const UNITS: readonly (readonly [string, number, string])[] = [
  ['sub-second-lost', 1000, 'whole seconds'],
  ['seconds-lost', 60_000, 'whole minutes'],
  ['time-of-day-lost', DAY_MS, 'whole days'],
];

const CUT = UNITS.map(([name, unitMs, what]) =>
  change(
    name,
    `Times are kept in ${what} only: look at the type of the column and at the function that makes the time.`,
    'store',
    (broken) =>
      bestChange(
        [Math.floor, Math.round, Math.ceil].map((round, k): Change => {
          const of = (cell: CellInstance) => round(cell.reading.atMs / unitMs) * unitMs;
          return {
            say: `found = expected ${['cut', 'rounded', 'rounded up'][k]} to ${what}`,
            explains: (cell) => cell.cell !== cell.expected && foundMs(cell) === of(cell),
            wouldBreak: (cell) => of(cell) !== cell.reading.atMs && unitMs > unitMsOf(cell),
          };
        }),
        broken,
      ),
  ),
);

const BASE_TIME = change(
  'base-time-lost',
  'The base time of a SenML pack was not added to the time of its records (RFC 8428, section 4.1).',
  'consumer',
  () => ({
    say: 'found is the time without its base, or the base alone,',
    explains: (cell) => {
      const atMs = foundMs(cell);
      if (atMs === undefined || cell.cell === cell.expected) return false;
      if (Math.abs(atMs) < DAY_MS && cell.reading.atMs > 2 * DAY_MS) return true;
      const first = cell.emission?.readings[0];
      return (
        first !== undefined && first !== cell.reading && atMs === first.atMs && atMs !== cell.reading.atMs
      );
    },
  }),
);

const ARRIVAL = change(
  'arrival-time',
  'The time at which the message came in stands for the time measured.',
  'consumer',
  (broken) => {
    const sent: Change = {
      say: 'found is within 10 s after the message was sent',
      explains: (cell) => {
        const atMs = foundMs(cell);
        if (atMs === undefined || !cell.emission) return false;
        const afterMs = atMs - cell.emission.atMs;
        return afterMs >= 0 && afterMs <= 10_000 && atMs !== cell.reading.atMs;
      },
      wouldBreak: ({ emission, reading }) => emission !== undefined && emission.atMs - reading.atMs > 10_000,
    };
    const real = pressed(broken);
    return bestChange(real ? [sent, real] : [sent], broken);
  },
);

/** A run's own clock: all times found lie in a much shorter span than those measured, with no constant between. */
function pressed(broken: readonly CellInstance[]): Change | undefined {
  const found = broken.flatMap((cell) => foundMs(cell) ?? []);
  if (found.length < 10) return undefined;
  const measured = broken.map(({ reading }) => reading.atMs);
  const [low, high] = [least(found), most(found)];
  const spanMs = most(measured) - least(measured);
  if (spanMs < 60_000 || (high - low) * 4 > spanMs || low === high || low < 365 * DAY_MS) return undefined;
  return {
    say: `found lies between ${utcText(low)} and ${utcText(high)}, a far shorter time than was measured in,`,
    explains: (cell) => {
      const atMs = foundMs(cell);
      return atMs !== undefined && atMs >= low && atMs <= high;
    },
    wouldBreak: () => true,
    atMost: 'likely',
  };
}

const least = (values: readonly number[]): number =>
  values.reduce((a, b) => Math.min(a, b), Number.POSITIVE_INFINITY);
const most = (values: readonly number[]): number =>
  values.reduce((a, b) => Math.max(a, b), Number.NEGATIVE_INFINITY);

const OTHER_UNIT = change(
  'constant-ratio',
  'The time is counted in another unit, such as seconds for milliseconds.',
  'export',
  (broken) =>
    bestChange(
      [1000, 0.001, 1e6, 1e-6].map((by) => ({
        say: `found = expected × ${by}`,
        explains: ({ cell, expected }: CellInstance) =>
          /^-?\d+(?:\.\d+)?$/.test(cell) &&
          /^-?\d+(?:\.\d+)?$/.test(expected) &&
          Math.abs(Number(cell) - Number(expected) * by) <= (by < 1 ? 1 : by) &&
          cell !== expected,
        wouldBreak: () => true,
      })),
      broken,
    ),
);

const SINGLE = change(
  'single-precision',
  'The time went through a 32-bit float, which tells times apart by minutes only.',
  'store',
  () => ({
    say: 'found = expected as a 32-bit float',
    explains: (cell) => {
      const atMs = foundMs(cell);
      const { atMs: e } = cell.reading;
      return (
        atMs !== undefined &&
        cell.cell !== cell.expected &&
        (atMs === Math.fround(e) || atMs === Math.fround(e / 1000) * 1000)
      );
    },
  }),
);

const DAY_NUMBER = change(
  'day-number',
  'The time is written as a number of days, as table programs keep it.',
  'export',
  () => ({
    say: 'found = days since the end of 1899',
    explains: ({ cell, reading }) =>
      /^\d{5}(?:[.,]\d+)?$/.test(cell) &&
      Math.abs(Number(cell.replace(',', '.')) - 25_569 - reading.atMs / DAY_MS) < 1,
    wouldBreak: () => true,
  }),
);

const OTHER_SPELLING = change(
  'other-time-form',
  'The time is spelt otherwise than promised, so that it cannot be read as it should be.',
  'export',
  () => ({
    say: 'found is no time of the promised form',
    explains: (cell) => foundMs(cell, 'strictly') === undefined && /\d/.test(cell.cell),
    atMost: 'possible',
  }),
);

export const TIME_HYPOTHESES: readonly Hypothesis<CellInstance>[] = [
  ...SHIFTED_CELLS,
  ...CUT,
  DAY_MONTH,
  TWELVE_HOURS,
  BASE_TIME,
  GPS_UTC,
  GPS_WEEK,
  SUMMER_TIME,
  OFFSET,
  OTHER_UNIT,
  SINGLE,
  DAY_NUMBER,
  DISPLACED,
  ARRIVAL,
  OTHER_ROW,
  OTHER_SPELLING,
];
