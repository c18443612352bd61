// Wall-clock time in a zone, by the zone data that Node carries (ECMA-402).
import { BadInput } from '../../sim/index.ts';

/** Offsets change on whole quarters of an hour of UTC, since 1972 at least. */
const QUARTER_MS = 900_000;

/** Gives the offset from UTC, ms, that holds in `zone` at a time. Throws BadInput where there is no such zone. */
export function zoneOffset(zone: string): (atMs: number) => number {
  if (zone === 'UTC') return () => 0;
  let format: Intl.DateTimeFormat;
  try {
    format = new Intl.DateTimeFormat('en-US', {
      timeZone: zone,
      calendar: 'gregory',
      numberingSystem: 'latn',
      hourCycle: 'h23',
      era: 'short',
      year: 'numeric',
      month: 'numeric',
      day: 'numeric',
      hour: 'numeric',
      minute: 'numeric',
      second: 'numeric',
    });
  } catch {
    throw new BadInput(
      `zone: expected the IANA name of a time zone, found ${JSON.stringify(zone)}. Mend: write it as in Europe/Lisbon.`,
    );
  }
  let quarter = Number.NaN;
  let offsetMs = 0;
  return (atMs) => {
    const now = Math.floor(atMs / QUARTER_MS);
    if (now !== quarter) {
      quarter = now;
      const start = now * QUARTER_MS;
      const parts = new Map(format.formatToParts(start).map(({ type, value }) => [type, value]));
      const part = (type: Intl.DateTimeFormatPartTypes): number => Number(parts.get(type));
      const wall = new Date(0);
      wall.setUTCFullYear(part('year'), part('month') - 1, part('day'));
      wall.setUTCHours(part('hour'), part('minute'), part('second'));
      offsetMs = wall.getTime() - start;
    }
    return offsetMs;
  };
}
