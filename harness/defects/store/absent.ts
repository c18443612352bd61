// Defects of what was not measured.
import type { Damage } from '../../pipeline/damage.ts';
import type { Row } from '../../pipeline/row.ts';
import { defect } from '../defect.ts';
import { MEASURED, placeOf, storingNumbers, withValues } from '../tools.ts';

const absent = (name: string, happens: string, cause: string, damage: Damage | (() => Damage)) =>
  defect('store', { name, happens, breaks: ['values.absent'], cause }, damage);

const ID = placeOf('id');
const POSITION = ['latDeg', 'lonDeg', 'altM'].map(placeOf);
const [LAT, LON, ALT] = POSITION as [number, number, number];

function carriedForward(): Damage {
  const last = new Map<string, Row>();
  return {
    row: (row) => {
      const id = String(row[ID]);
      if (row[LAT] !== null) {
        last.set(id, row);
        return row;
      }
      const known = last.get(id);
      return known === undefined
        ? row
        : withValues(row, { latDeg: known[LAT], lonDeg: known[LON], altM: known[ALT] });
    },
  };
}

export const ABSENT_DEFECTS = [
  absent(
    'no-fix-as-zero',
    'Numbers of a struct start at zero, and nothing sets them without a fix.',
    'absent-as-zero',
    {
      row: (row) => (row[LAT] === null ? withValues(row, { latDeg: 0, lonDeg: 0, altM: 0 }) : row),
    },
  ),
  absent(
    'carried-forward',
    'Without a fix the last position is stored again, as if it were new.',
    'carried-forward',
    carriedForward,
  ),
  absent('null-as-text', 'An absent number is put into the statement as the text null.', 'absent-as-text', {
    store: { key: ['id', 'boot', 'seq'], onRepeat: 'keep', strict: false },
    row: (row) => {
      const changed = [...row];
      for (const name of MEASURED) changed[placeOf(name)] ??= 'null';
      return changed;
    },
  }),
  absent(
    'zero-as-null',
    'A test for truth takes zero for absent.',
    'zero-as-absent',
    storingNumbers(MEASURED, (value) => (value === 0 ? null : value)),
  ),
] as const;
