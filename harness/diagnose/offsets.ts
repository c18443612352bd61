// Times that are off by an amount: of a zone, of leap seconds, of weeks counted in ten bits.
import { DAY_MS, durationText, HOUR_MS, MINUTE_MS, SECOND_MS } from '../../sim/index.ts';
import { Zone } from '../checks/zone.ts';
import type { CellInstance } from './instances.ts';
import { bestChange, change, commonest, distinct, type Change } from './cells.ts';
import { apartMs } from './instants.ts';

const QUARTER_MS = 15 * MINUTE_MS;
/** From UTC-12 to UTC+14 (IANA time zone data). */
const isZoneLike = (ms: number): boolean =>
  ms !== 0 && ms % QUARTER_MS === 0 && ms >= -14 * HOUR_MS && ms <= 14 * HOUR_MS;

/** GPS weeks are broadcast modulo 1024 (IS-GPS-200, 20.3.3.3.1.1). */
const ROLLOVER_MS = 1024 * 7 * DAY_MS;

/** Seconds that GPS, or TAI, runs ahead of UTC since 1 January 2017 (IERS Bulletin C 52). */
const AHEAD: readonly (readonly [number, string])[] = [
  [18 * SECOND_MS, 'GPS time runs 18 s ahead of UTC'],
  [37 * SECOND_MS, 'TAI runs 37 s ahead of UTC'],
  [19 * SECOND_MS, 'TAI runs 19 s ahead of GPS time'],
];

function off(byMs: number, what: string): Change {
  return {
    say: `found = expected ${byMs < 0 ? '-' : '+'} ${durationText(Math.abs(byMs))}${what}`,
    explains: (cell) => byMs !== 0 && apartMs(cell) === byMs,
    wouldBreak: () => true,
  };
}

export const GPS_UTC = change(
  'gps-utc',
  'Time of GPS, which has no leap seconds, stands for UTC, or the leap seconds were taken off twice.',
  'consumer',
  (broken) =>
    bestChange(
      AHEAD.flatMap(([ms, what]) => [off(ms, `; ${what};`), off(-ms, `; ${what};`)]),
      broken,
    ),
);

export const GPS_WEEK = change(
  'gps-week',
  'The GPS week number, which is broadcast modulo 1024, was counted from the wrong rollover.',
  'consumer',
  (broken) =>
    bestChange(
      [1, -1, 2, -2, 3, -3].flatMap((k) =>
        [0, 18 * SECOND_MS, -18 * SECOND_MS].map((extraMs) =>
          off(
            k * ROLLOVER_MS + extraMs,
            `, ${Math.abs(k)} × 1024 weeks${extraMs === 0 ? '' : ' and leap seconds'}`,
          ),
        ),
      ),
      broken,
    ),
);

/** From 1 January 1970 to 6 January 1980, the zero of GPS time. */
const EPOCHS_APART_MS = 3657 * DAY_MS;

export const OFFSET = change(
  'constant-offset',
  'Every time is off by the same amount: a zone taken for another, or a clock counted from another zero.',
  'store',
  (broken) => {
    const most = commonest(broken.flatMap((cell) => apartMs(cell) ?? []));
    if (!most || most.value === 0 || most.count < 3) return undefined;
    const at = broken.filter((cell) => apartMs(cell) === most.value);
    if (distinct(at.map(({ reading }) => reading.atMs)) < 3) return undefined;
    return off(most.value, meaning(most.value));
  },
);

function meaning(ms: number): string {
  if (isZoneLike(ms)) return `, the offset of a zone (UTC${zoneText(ms)})`;
  if (Math.abs(ms) === EPOCHS_APART_MS) return ', from the zero of Unix time to that of GPS time';
  return '';
}

function zoneText(ms: number): string {
  const minutes = Math.abs(ms) / MINUTE_MS;
  const two = (n: number): string => String(n).padStart(2, '0');
  return `${ms < 0 ? '-' : '+'}${two(Math.floor(minutes / 60))}:${two(minutes % 60)}`;
}

export const SUMMER_TIME = change(
  'zone-with-summer-time',
  'Local time of a zone with summer time stands for UTC, or one was taken for the other.',
  'store',
  (broken, sound) => {
    const all = [...broken, ...sound].toSorted((a, b) => a.reading.atMs - b.reading.atMs);
    const offsets = all.flatMap((cell) => apartMs(cell) ?? []);
    const first = commonest(broken.flatMap((cell) => apartMs(cell) ?? []).filter(isZoneLike));
    if (!first || first.count < 3) return undefined;
    // Lord Howe Island shifts by half an hour, every other zone by one.
    for (const apart of [HOUR_MS, -HOUR_MS, HOUR_MS / 2, -HOUR_MS / 2]) {
      const other = first.value + apart;
      const pair = new Set([first.value, other]);
      const line = offsets.filter((ms) => pair.has(ms));
      const switches = line.filter((ms, k) => k > 0 && ms !== line[k - 1]).length;
      const [from, to] = [all[0]?.reading.atMs ?? 0, all.at(-1)?.reading.atMs ?? 0];
      const mostSwitches = Math.ceil((to - from) / (150 * DAY_MS)) + 1;
      if (switches === 0 || switches > mostSwitches || line.filter((ms) => ms === other).length < 3) continue;
      const named = zoneWith(all.filter((cell) => pair.has(apartMs(cell) ?? Number.NaN)));
      return {
        say: `found = expected UTC${zoneText(first.value)} or UTC${zoneText(other)} by the season${named}`,
        explains: (cell) => {
          const ms = apartMs(cell);
          return ms !== undefined && ms !== 0 && pair.has(ms);
        },
      };
    }
    return undefined;
  },
);

const CHECKED = 24;

/** The first zone whose offsets are those found, forwards or backwards. */
function zoneWith(cells: readonly CellInstance[]): string {
  // The ends of each stretch say the most.
  const turns = cells.filter((cell, k) => {
    const ms = apartMs(cell);
    const [before, after] = [cells[k - 1], cells[k + 1]];
    return !before || !after || apartMs(before) !== ms || apartMs(after) !== ms;
  });
  const shown = turns.slice(0, CHECKED);
  for (const name of Intl.supportedValuesOf('timeZone')) {
    const zone = new Zone(name);
    for (const sign of [1, -1]) {
      if (shown.every((cell) => apartMs(cell) === sign * zone.offsetMs(cell.reading.atMs)))
        return `, as in ${name},`;
    }
  }
  return '';
}
