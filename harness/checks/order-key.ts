// What a row is sorted by: the key as it is written in the file, and as it was measured.
import { FIELDS, parseUtc, utcText, type Reading } from '../../sim/index.ts';
import type { Column, Contract } from '../contract/contract.ts';
import { timesOf } from './cell.ts';
import { expectedOf, type Row } from './check.ts';
import { Zone } from './zone.ts';

export type Key = number | string;

/** Reads one sort key of a row; undefined where it is absent or unreadable. */
export interface OrderKeyReader {
  readonly name: string;
  readonly sign: 1 | -1;
  /** As the cell reads: a local time by its wall clock. */
  written(row: Row): Key | undefined;
  /** As it was measured; as the cell reads where no reading belongs to the row. */
  measured(row: Row): Key | undefined;
  show(key: Key): string;
}

export function orderKeys(contract: Contract): OrderKeyReader[] {
  return contract.order.map(({ column: name, direction }) => {
    const index = contract.columns.findIndex((candidate) => candidate.name === name);
    const column = contract.columns[index];
    if (!column) throw new Error(`order names ${name}, which the contract doesn't have`);
    const ofCell = cellKey(column, contract.csv.formulaGuard);
    const ofReading = readingKey(column);
    return {
      name,
      sign: direction === 'rising' ? 1 : -1,
      written: (row) => ofCell.written(row.cells[index] ?? ''),
      measured: (row) => {
        const expected = expectedOf(row);
        return expected && ofReading ? ofReading(expected.reading) : ofCell.meant(row.cells[index] ?? '');
      },
      show: (key) => (column.form.kind === 'time' ? utcText(Number(key)) : String(key)),
    };
  });
}

interface CellKey {
  written(cell: string): Key | undefined;
  /** Comparable with the keys of readings. */
  meant(cell: string): Key | undefined;
}

function cellKey({ form, nullAs }: Column, guard: string): CellKey {
  if (form.kind === 'text') {
    const guarded = (cell: string) =>
      guard !== '' && cell.startsWith(guard) && /^[=+\-@]/.test(cell.slice(guard.length));
    return {
      written: (cell) => cell,
      meant: (cell) => (guarded(cell) ? cell.slice(guard.length) : cell),
    };
  }
  if (form.kind === 'number') {
    const read = (cell: string) => {
      const value = cell === nullAs || cell.trim() === '' ? Number.NaN : Number(cell);
      return Number.isNaN(value) ? undefined : value;
    };
    return {
      written: read,
      meant: (cell) => {
        const value = read(cell);
        return value === undefined ? undefined : value / form.factor;
      },
    };
  }
  const zone = new Zone(form.zone);
  const meant = (cell: string) => timesOf(cell, form, zone)[0];
  if (form.as !== 'local') return { written: meant, meant };
  return {
    written: (cell) => (meant(cell) === undefined ? undefined : parseUtc(`${cell.replace(' ', 'T')}Z`)),
    meant,
  };
}

function readingKey({ field: name }: Column): ((reading: Reading) => Key | undefined) | undefined {
  const field = FIELDS.find((candidate) => candidate.name === name);
  switch (field?.kind) {
    case undefined:
      return undefined;
    case 'number': {
      const scale = 10 ** field.decimals;
      return (reading) => {
        const scaled = reading[field.key];
        return scaled === null ? undefined : scaled / scale;
      };
    }
    case 'time':
    case 'text':
      return (reading) => reading[field.key];
  }
}
