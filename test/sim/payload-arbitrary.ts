// Any reading that FIELDS allows, for property tests of the payloads.
import * as fc from 'fast-check';
import { FIELDS } from '../../sim/reading.ts';
import type { Reading } from '../../sim/reading.ts';
import { imei } from '../../sim/tracker/identity.ts';

/** 9999-12-31T23:59:59.999Z: the last time with a year of four digits. */
const LAST_MS = 253_402_300_799_999;

const numbers = Object.fromEntries(
  FIELDS.flatMap((field) => {
    if (field.kind !== 'number') return [];
    const per = 10 ** field.decimals;
    const whole = fc.integer({ min: Math.ceil(field.min * per), max: Math.floor(field.max * per) });
    return [[field.key, field.nullable ? fc.option(whole, { freq: 6 }) : whole]];
  }),
);

const anywhere = fc.record({
  latDegE7: fc.integer({ min: -900_000_000, max: 900_000_000 }),
  lonDegE7: fc.integer({ min: -1_800_000_000, max: 1_800_000_000 }),
});
const nowhere = fc.constant({
  latDegE7: null,
  lonDegE7: null,
  altME1: null,
  speedMpsE2: null,
  courseDegE1: null,
});

const rest = fc.record({
  ...numbers,
  id: fc.integer({ min: 0, max: 999_999_999 }).map(imei),
  label: fc.string({ unit: 'binary' }),
  atMs: fc.oneof(
    fc.integer({ min: 0, max: LAST_MS }),
    // Around 2^28 s, where SenML turns from relative to absolute.
    fc.integer({ min: 2 ** 28 * 1000 - 5, max: 2 ** 28 * 1000 + 5 }),
  ),
  clock: fc.constantFrom('unset', 'network', 'gnss'),
}) as fc.Arbitrary<Omit<Reading, 'fix'>>;

export const anyReading: fc.Arbitrary<Reading> = fc.oneof(
  fc.tuple(rest, nowhere).map(([reading, position]): Reading => ({ ...reading, ...position, fix: 'none' })),
  fc
    .tuple(rest, anywhere, fc.constantFrom<Reading['fix']>('last', '2d', '3d'))
    .map(([reading, position, fix]): Reading => ({ ...reading, ...position, fix })),
);

/** One reading with a position, to be changed by a test. */
export const SOME_READING: Reading = {
  id: '004999010640000',
  label: 'crate 7',
  boot: 1,
  seq: 0,
  atMs: 1_930_000_000_123,
  clock: 'gnss',
  fix: '3d',
  latDegE7: -383_912_345,
  lonDegE7: -142_000_000,
  altME1: 125,
  speedMpsE2: 0,
  courseDegE1: 3599,
  satellites: 9,
  hdopE1: 9,
  accuracyME1: 31,
  airTempCE2: -1805,
  humidityPctE1: 1000,
  pressurePa: 101_325,
  accelMps2E2: 5,
  batteryVE3: 3700,
  batteryPct: 80,
  rsrpDbm: -101,
  rsrqDbE1: -105,
};
