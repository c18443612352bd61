// What several defects share: places in a row of the store, and changes of one field or cell.
import type { Column, ColumnForm } from '../contract/contract.ts';
import { csvCell } from '../csv/writer.ts';
import type { Damage } from '../pipeline/damage.ts';
import { COLUMNS, type Row } from '../pipeline/row.ts';

export type Value = string | number | null;

/** Place of a column of the store, by its SQL name. */
export function placeOf(name: string): number {
  const place = COLUMNS.findIndex((column) => column.name === name);
  if (place < 0) throw new Error(`the store has no column ${name}`);
  return place;
}

/** A row with some columns changed. */
export function withValues(row: Row, changes: Readonly<Record<string, Value | undefined>>): Row {
  const changed = [...row];
  for (const [name, value] of Object.entries(changes)) changed[placeOf(name)] = value ?? null;
  return changed;
}

/** Stores columns changed; what is absent stays so. */
export function storing(
  names: readonly string[],
  change: (value: string | number, row: Row) => Value,
): Pick<Damage, 'row'> {
  const places = names.map(placeOf);
  return {
    row: (row) => {
      const changed = [...row];
      for (const place of places) {
        const value = row[place];
        if (value !== null && value !== undefined) changed[place] = change(value, row);
      }
      return changed;
    },
  };
}

export const storingNumbers = (names: readonly string[], change: (value: number, row: Row) => Value) =>
  storing(names, (value, row) => change(Number(value), row));

export const storingText = (names: readonly string[], change: (text: string) => string) =>
  storing(names, (value) => change(String(value)));

/** Names of the store's columns of numbers that may be absent: measured ones. */
export const MEASURED: readonly string[] = COLUMNS.filter((column) => column.nullable).map(
  ({ name }) => name,
);

/** Fields whose numbers have a fraction. */
const FRACTIONAL = new Set(COLUMNS.filter(({ type }) => type === 'REAL').map(({ field }) => field.name));

export function isFractional({ field }: Column): boolean {
  return field !== null && FRACTIONAL.has(field);
}

/** Writes present values of some columns otherwise: `change` gets the text without quotes. */
export function writing(
  kind: ColumnForm['kind'],
  change: (text: string, column: Column) => string,
  applies: (column: Column) => boolean = () => true,
): Pick<Damage, 'cell'> {
  return {
    cell: (sound, column, { delimiter }) =>
      column.form.kind !== kind || !applies(column)
        ? sound
        : (value) =>
            value === null || value === undefined
              ? sound(value)
              : csvCell(change(textOf(sound(value)), column), delimiter),
  };
}

/** The text of a finished cell. */
export function textOf(cell: string): string {
  return cell.startsWith('"') ? cell.slice(1, -1).replaceAll('""', '"') : cell;
}
