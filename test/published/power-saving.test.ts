// Timers against 3GPP TS 24.008 Tables 10.5.163, 10.5.163a and 10.5.5.32.
import * as fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { BadInput } from '../../sim/errors.ts';
import {
  decodeT3324,
  decodeT3412Ext,
  edrxCycleS,
  encodeT3324,
  encodeT3412Ext,
  pagingWindowS,
} from '../../sim/tracker/power-saving.ts';

const MIN = 60;
const HOUR = 3600;

describe('T3324', () => {
  it.each([
    [0b000_00101, 10],
    [0b001_00100, 4 * MIN], // example of the standard
    [0b010_00010, 12 * MIN],
    [0b010_11111, 11_160],
    [0b011_00001, MIN], // other values: one minute (from memory)
    [0b111_00000, null],
    [0b111_11111, null],
  ])('%i lasts %s s', (octet, seconds) => {
    expect(decodeT3324(octet)).toBe(seconds);
  });
});

describe('T3412 extended', () => {
  it.each([
    [0b000_00111, 70 * MIN],
    [0b010_00111, 70 * HOUR], // example of the standard
    [0b001_11000, 24 * HOUR],
    [0b011_00101, 10],
    [0b100_00010, MIN],
    [0b110_11111, 35_712_000],
    [0b111_00101, null],
  ])('%i lasts %s s', (octet, seconds) => {
    expect(decodeT3412Ext(octet)).toBe(seconds);
  });

  it('has several octets for one duration', () => {
    expect(decodeT3412Ext(0b000_00001)).toBe(decodeT3412Ext(0b101_01010));
  });

  it('has another unit than T3324 under the same bits', () => {
    expect([decodeT3324(0b001_00001), decodeT3412Ext(0b001_00001)]).toEqual([MIN, HOUR]);
  });
});

describe('encoding', () => {
  it.each([
    ['T3324', encodeT3324, decodeT3324, 11_160],
    ['T3412 extended', encodeT3412Ext, decodeT3412Ext, 35_712_000],
  ] as const)('%s never shortens a time, and takes the nearest there is', (_, encode, decode, longestS) => {
    fc.assert(
      fc.property(fc.integer({ min: 0, max: longestS }), (seconds) => {
        const got = decode(encode(seconds)) ?? Number.NaN;
        expect(got).toBeGreaterThanOrEqual(seconds);
        for (let octet = 0; octet < 256; octet++) {
          const other = decode(octet);
          if (other !== null && other >= seconds) expect(other).toBeGreaterThanOrEqual(got);
        }
      }),
      { seed: 4 },
    );
    expect(() => encode(longestS + 1)).toThrow(BadInput);
    expect(() => encode(-1)).toThrow(BadInput);
  });
});

describe('eDRX', () => {
  it('has the cycles of the table for LTE-M', () => {
    expect(Array.from({ length: 16 }, (_, bits) => edrxCycleS(bits, 'lte-m'))).toEqual([
      5.12, 10.24, 20.48, 40.96, 61.44, 81.92, 102.4, 122.88, 143.36, 163.84, 327.68, 655.36, 1310.72,
      2621.44, 2621.44, 2621.44,
    ]);
  });

  it('reads the values that NB-IoT lacks as one release says', () => {
    expect(Array.from({ length: 16 }, (_, bits) => edrxCycleS(bits, 'nb-iot'))).toEqual([
      null,
      null,
      20.48,
      40.96,
      20.48,
      81.92,
      20.48,
      20.48,
      20.48,
      163.84,
      327.68,
      655.36,
      1310.72,
      2621.44,
      5242.88,
      10_485.76,
    ]);
  });

  it('has paging windows of 1.28 s and 2.56 s steps', () => {
    expect([0, 15].map((bits) => pagingWindowS(bits, 'lte-m'))).toEqual([1.28, 20.48]);
    expect([0, 15].map((bits) => pagingWindowS(bits, 'nb-iot'))).toEqual([2.56, 40.96]);
  });
});
