// Zones against published clock changes and against Intl.
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { timesOf } from '../../harness/checks/cell.ts';
import { Zone } from '../../harness/checks/zone.ts';

const utc = (text: string) => Date.parse(text);
const HOUR = 3_600_000;

describe('clock changes of Europe/Dublin', () => {
  // Directive 2000/84/EC, articles 2 and 3: summer time runs from 01:00 UTC on the last Sunday of March to 01:00 UTC
  // on the last Sunday of October (from memory): 31 March and 27 October 2024.
  const zone = new Zone('Europe/Dublin');
  const spring = utc('2024-03-31T01:00:00Z');
  const autumn = utc('2024-10-27T01:00:00Z');

  it('fall on the published instants, to the millisecond', () => {
    expect([spring - 1, spring, autumn - 1, autumn].map((atMs) => zone.offsetMs(atMs))).toEqual([
      0,
      HOUR,
      HOUR,
      0,
    ]);
  });

  it('make an hour that never was, and one that was twice', () => {
    const wall = (text: string) => zone.instantsOf(utc(`${text}Z`));
    expect(wall('2024-03-31T00:59:59.999')).toEqual([spring - 1]);
    expect(wall('2024-03-31T01:00:00.000')).toEqual([]);
    expect(wall('2024-03-31T01:59:59.999')).toEqual([]);
    expect(wall('2024-03-31T02:00:00.000')).toEqual([spring]);
    expect(wall('2024-10-27T00:59:59.999')).toEqual([autumn - HOUR - 1]);
    expect(wall('2024-10-27T01:00:00.000')).toEqual([autumn - HOUR, autumn]);
    expect(wall('2024-10-27T01:59:59.999')).toEqual([autumn - 1, autumn + HOUR - 1]);
    expect(wall('2024-10-27T02:00:00.000')).toEqual([autumn + HOUR]);
  });

  it('are read out of local cells', () => {
    const form = { kind: 'time', as: 'local', zone: 'Europe/Dublin', secondDecimals: 0 } as const;
    expect(timesOf('2024-10-27 01:30:00', form, zone)).toEqual([autumn - HOUR / 2, autumn + HOUR / 2]);
    expect(timesOf('2024-03-31 01:30:00', form, zone)).toEqual([]);
    expect(timesOf('2024-02-30 01:30:00', form, zone)).toEqual([]);
  });
});

describe('odd changes', () => {
  it('of half an hour: Australia/Lord_Howe', () => {
    // IANA tz database, australasia: LH 10:30 / LHDT 11:00; back on the first Sunday of April at 02:00 LHDT. (from memory)
    const zone = new Zone('Australia/Lord_Howe');
    const back = utc('2024-04-06T15:00:00Z');
    expect([zone.offsetMs(back - 1), zone.offsetMs(back)]).toEqual([11 * HOUR, 10.5 * HOUR]);
    expect(zone.instantsOf(utc('2024-04-07T01:45:00Z'))).toEqual([back - HOUR / 4, back + HOUR / 4]);
  });

  it('of a whole day: Pacific/Apia had no 30 December 2011', () => {
    // IANA tz database, australasia: Apia went from -10 to +14 at the end of 29 December 2011. (from memory)
    const zone = new Zone('Pacific/Apia');
    const change = utc('2011-12-30T10:00:00Z');
    expect(zone.instantsOf(utc('2011-12-29T23:59:59Z'))).toEqual([change - 1000]);
    expect(zone.instantsOf(utc('2011-12-30T12:00:00Z'))).toEqual([]);
    expect(zone.instantsOf(utc('2011-12-31T00:00:00Z'))).toEqual([change]);
  });

  it('within a quarter hour: Africa/Monrovia', () => {
    // IANA tz database, africa: -0:44:30 until 7 January 1972, then 0. (from memory)
    const zone = new Zone('Africa/Monrovia');
    const change = utc('1972-01-07T00:44:30Z');
    expect([zone.offsetMs(change - 1), zone.offsetMs(change)]).toEqual([-2_670_000, 0]);
    expect(zone.offsetMs(change - 60_000)).toBe(-2_670_000);
  });
});

describe('any zone', () => {
  const anyZone = fc.constantFrom(...Intl.supportedValuesOf('timeZone'), 'UTC', 'Etc/UTC');
  const anyTime = fc.integer({ min: utc('1970-01-01T00:00:00Z'), max: utc('2037-12-31T00:00:00Z') });

  it('shows the wall clock that Intl shows, and finds its way back', () => {
    fc.assert(
      fc.property(anyZone, anyTime, (name, atMs) => {
        const zone = new Zone(name);
        const wallMs = atMs + zone.offsetMs(atMs);
        // The Swedish locale writes `YYYY-MM-DD HH:MM:SS`.
        const shown = new Intl.DateTimeFormat('sv-SE', {
          timeZone: name,
          dateStyle: 'short',
          timeStyle: 'medium',
        }).format(atMs);
        expect(new Date(wallMs).toISOString().slice(0, 19).replace('T', ' ')).toBe(shown);
        const instants = zone.instantsOf(wallMs);
        expect(instants).toContain(atMs);
        for (const other of instants) expect(other + zone.offsetMs(other)).toBe(wallMs);
        expect(instants).toEqual([...new Set(instants)].toSorted((a, b) => a - b));
      }),
      { seed: 2024, numRuns: 2000 },
    );
  });
});
