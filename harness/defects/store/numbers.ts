// Defects of numbers on their way into the store.
import type { Damage } from '../../pipeline/damage.ts';
import { defect } from '../defect.ts';
import { placeOf, storingNumbers, withValues } from '../tools.ts';

const number = (name: string, happens: string, cause: string, damage: Damage | (() => Damage)) =>
  defect('store', { name, happens, breaks: ['values.numbers'], cause }, damage);

const LAT = placeOf('latDeg');
const LON = placeOf('lonDeg');
const ID = placeOf('id');
const HUMIDITY = placeOf('humidityPct');

function columnShift(): Damage {
  const before = new Map<string, number | null>();
  return {
    row: (row) => {
      const id = String(row[ID]);
      const shifted = before.get(id);
      const own = row[HUMIDITY];
      before.set(id, typeof own === 'number' ? own : null);
      return shifted === undefined ? row : withValues(row, { humidityPct: shifted });
    },
  };
}

export const NUMBER_DEFECTS = [
  number(
    'single-precision',
    'Positions are kept as 32-bit floating point, which has seven digits.',
    'single-precision',
    storingNumbers(['latDeg', 'lonDeg'], Math.fround),
  ),
  number(
    'axes-swapped',
    'Longitude comes first in one library and latitude in the other.',
    'columns-swapped',
    {
      row: (row) => withValues(row, { latDeg: row[LON], lonDeg: row[LAT] }),
    },
  ),
  number(
    'whole-numbers',
    'The column takes whole numbers, and rounds.',
    'rounded',
    storingNumbers(['airTempC'], Math.round),
  ),
  number(
    'truncated-numbers',
    'A cast to a whole number cuts the fraction off, towards zero.',
    'truncated',
    storingNumbers(['altM'], Math.trunc),
  ),
  number(
    'sign-lost',
    'The column is unsigned, and a sign is dropped.',
    'sign-lost',
    storingNumbers(['latDeg', 'lonDeg'], Math.abs),
  ),
  number(
    'clamped-at-zero',
    'Readings below zero are held for sensor errors and set to zero.',
    'clamped',
    storingNumbers(['airTempC'], (value) => Math.max(0, value)),
  ),
  number(
    'int16-overflow',
    'Pressure in pascals goes through a signed 16-bit register.',
    'wrapped',
    storingNumbers(['pressurePa'], (value) => (value << 16) >> 16),
  ),
  number(
    'wrapped-longitude',
    'A map library counts longitude from 0 to 360 degrees.',
    'longitude-0-360',
    storingNumbers(['lonDeg'], (value) => (value < 0 ? Math.round((value + 360) * 1e7) / 1e7 : value)),
  ),
  number(
    'column-shift',
    "One column of a bulk insert is off by one: each row gets the humidity of its tracker's row before.",
    'other-rows-value',
    columnShift,
  ),
] as const;
