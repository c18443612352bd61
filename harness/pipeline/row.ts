// From a decoded reading to a row of the store. The pipeline trusts no decoder: it checks types and ranges itself.
import { FIELDS, type Field, type WireReading } from '../../sim/index.ts';

/** Values in the order of COLUMNS. */
export type Row = (string | number | null)[];

export interface StoreColumn {
  /** SQL name. */
  readonly name: string;
  readonly type: 'TEXT' | 'INTEGER' | 'REAL';
  readonly nullable: boolean;
  readonly field: Field;
}

/** Time is kept as `at_ms`, Unix ms; every other field under its own name. */
export const COLUMNS: readonly StoreColumn[] = FIELDS.map((field) => {
  switch (field.kind) {
    case 'text':
      return { name: field.name, type: 'TEXT', nullable: false, field };
    case 'time':
      return { name: 'at_ms', type: 'INTEGER', nullable: false, field };
    case 'number':
      return {
        name: field.name,
        type: field.decimals === 0 ? 'INTEGER' : 'REAL',
        nullable: field.nullable,
        field,
      };
  }
});

/** The row of a reading, or why it is refused, in one line. */
export function rowOf(reading: WireReading): Row | string {
  const row: Row = new Array<string | number | null>(COLUMNS.length);
  for (let i = 0; i < COLUMNS.length; i += 1) {
    const column = COLUMNS[i];
    if (column === undefined) continue;
    const value = reading[column.field.name];
    if (value === undefined) return `${column.field.name} is missing`;
    if (value === null) {
      if (!column.nullable) return `${column.field.name} is null`;
      row[i] = null;
      continue;
    }
    const field = column.field;
    if (field.kind === 'number') {
      if (typeof value !== 'number' || !Number.isFinite(value)) return `${field.name} is not a number`;
      if (value < field.min || value > field.max) {
        return `${field.name} ${value} is not from ${field.min} to ${field.max} ${field.unit}`;
      }
      if (field.decimals === 0 && !Number.isInteger(value)) return `${field.name} ${value} is not whole`;
      row[i] = value;
    } else if (typeof value !== 'string') {
      return `${field.name} is not text`;
    } else if (field.kind === 'time') {
      const ms = timeMs(value);
      if (ms === undefined) return `${field.name} ${JSON.stringify(value)} is not RFC 3339 in UTC`;
      row[i] = ms;
    } else {
      if (field.key === 'id' && value === '') return `${field.name} is empty`;
      row[i] = value;
    }
  }
  return row;
}

const UTC_TIME = /^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(?:\.(\d+))?Z$/;

/** Unix ms of an RFC 3339 time in UTC with at most milliseconds. */
function timeMs(text: string): number | undefined {
  const match = UTC_TIME.exec(text);
  if (match === null || (match[1]?.length ?? 0) > 3) return undefined;
  const ms = Date.parse(text);
  // Date.parse takes 30 February for 2 March, and hour 24 for the next day's 0.
  if (Number.isNaN(ms) || new Date(ms).toISOString().slice(0, 19) !== text.slice(0, 19)) return undefined;
  return ms;
}
