import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  civilFromDays,
  daysFromCivil,
  durationText,
  parseDuration,
  parseUtc,
  utcText,
} from '../../sim/clock.ts';

describe('time as text', () => {
  it('agrees with the language on every instant between the years 1 and 9999', () => {
    fc.assert(
      fc.property(fc.integer({ min: -62_135_596_800_000, max: 253_402_300_799_999 }), (atMs) => {
        expect(utcText(atMs)).toBe(new Date(atMs).toISOString());
        expect(parseUtc(utcText(atMs))).toBe(atMs);
      }),
      { seed: 1, numRuns: 2000 },
    );
  });

  it('turns days into dates and back, over four centuries of leap years', () => {
    const wrong: number[] = [];
    for (let days = -146_097; days < 146_097; days += 1) {
      const { year, month, day } = civilFromDays(days);
      if (daysFromCivil(year, month, day) !== days) wrong.push(days);
    }
    expect(wrong).toEqual([]);
  });

  // RFC 3339 section 5.8 gives the examples marked 5.8; the rest are rules of section 5.6.
  it.each([
    ['1985-04-12T23:20:50.52Z', 482_196_050_520], // 5.8
    ['1996-12-19T16:39:57-08:00', 851_042_397_000], // 5.8
    ['1937-01-01T12:00:27.87+00:20', -1_041_337_172_130], // 5.8
    ['1985-04-12t23:20:50.52z', 482_196_050_520], // lower case is allowed
    ['1985-04-12T23:20:50.5239Z', 482_196_050_523], // cut, not rounded
    ['1990-12-31T23:59:60Z', undefined], // 5.8: a leap second, which our time scale doesn't have
    ['2023-02-29T00:00:00Z', undefined],
    ['2024-01-01T00:00:00', undefined],
    ['2024-01-01 00:00:00Z', undefined],
    ['2024-01-01T24:00:00Z', undefined],
    ['2024-13-01T00:00:00Z', undefined],
    ['2024-01-00T00:00:00Z', undefined],
    ['2024-01-01T00:00:00+24:00', undefined],
  ])('reads %s as %s', (text, atMs) => {
    expect(parseUtc(text)).toBe(atMs);
  });
});

describe('durations', () => {
  it.each([
    ['90s', 90_000],
    ['1h30min', 5_400_000],
    ['2d', 172_800_000],
    ['0.5h', 1_800_000],
    ['250ms', 250],
    ['', undefined],
    ['90', undefined],
    ['1h 30min', undefined],
    ['1 h', undefined],
    ['-1h', undefined],
    ['1m', undefined],
  ])('reads %j as %s ms', (text, ms) => {
    expect(parseDuration(text)).toBe(ms);
  });

  it('writes what it can read', () => {
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 1e12 }), (ms) => {
        expect(parseDuration(durationText(ms))).toBe(ms);
      }),
      { seed: 2 },
    );
  });
});
