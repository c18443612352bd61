// Defects of units: the number is right in another unit than the column's.
import type { StoreRules } from '../../pipeline/damage.ts';
import { defect } from '../defect.ts';
import { storingNumbers } from '../tools.ts';

/** A table whose columns of whole numbers take a fraction. */
const LOOSE: StoreRules = { key: ['id', 'boot', 'seq'], onRepeat: 'keep', strict: false };

const unit = (
  name: string,
  happens: string,
  cause: string,
  column: string,
  change: (value: number) => number,
) =>
  defect(
    'store',
    // The value mostly gets its unit where the message is read.
    { name, happens, breaks: ['values.numbers'], cause, hop: 'consumer' },
    { ...storingNumbers([column], change), store: LOOSE },
  );

const KNOT_MPS = 1852 / 3600;

export const UNIT_DEFECTS = [
  unit(
    'pressure-in-hpa',
    'The weather service wants hectopascals.',
    'constant-ratio',
    'pressurePa',
    (pa) => pa / 100,
  ),
  unit(
    'speed-in-kmh',
    'The map shows kilometres an hour, and so does the table.',
    'constant-ratio',
    'speedMps',
    (mps) => mps * 3.6,
  ),
  unit(
    'speed-in-knots',
    'The receiver speaks NMEA 0183, whose speed is in knots.',
    'constant-ratio',
    'speedMps',
    (mps) => mps / KNOT_MPS,
  ),
  unit('battery-in-mv', 'The modem reports millivolts.', 'constant-ratio', 'batteryV', (volts) =>
    Math.round(volts * 1000),
  ),
  unit(
    'fahrenheit',
    'The sensor library is set to degrees Fahrenheit.',
    'other-scale',
    'airTempC',
    (celsius) => celsius * 1.8 + 32,
  ),
  unit(
    'dbw-as-dbm',
    'The level is given in decibels above a watt instead of a milliwatt.',
    'constant-offset',
    'rsrpDbm',
    (dbm) => dbm - 30,
  ),
] as const;
