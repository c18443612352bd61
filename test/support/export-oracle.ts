// What an export says, read by csv-parse and compared in whole-number arithmetic: a second opinion on the checks.
import { parse } from 'csv-parse/sync';
import type { Column, Contract } from '../../harness/contract/contract.ts';
import { FIELDS, type Reading } from '../../sim/index.ts';
import type { IdealRow } from './ideal-export.ts';

/** Whether the file says exactly the rows, in their order, as the contract promises to write them. */
export function saysTheSame(contract: Contract, rows: readonly IdealRow[], bytes: Buffer): boolean {
  const { delimiter, lineEnd, header, byteOrderMark } = contract.csv;
  const marked = bytes.subarray(0, 3).equals(Buffer.from('\ufeff'));
  if (byteOrderMark !== 'either' && marked !== (byteOrderMark === 'required')) return false;
  let records: string[][];
  try {
    records = parse(bytes, {
      delimiter,
      bom: marked,
      record_delimiter: { crlf: ['\r\n'], lf: ['\n'], either: ['\r\n', '\n'] }[lineEnd],
    });
  } catch {
    return false;
  }
  const names = contract.columns.map(({ name }) => name);
  if (header && JSON.stringify(records.shift()) !== JSON.stringify(names)) return false;
  return (
    records.length === rows.length &&
    records.every((cells, r) => {
      const row = rows[r];
      return (
        row !== undefined &&
        cells.length === names.length &&
        contract.columns.every((column, k) => says(column, cells[k] ?? '', row.cells[k] ?? '', row.reading))
      );
    })
  );
}

function says(column: Column, cell: string, ideal: string, reading: Reading): boolean {
  const field = FIELDS.find(({ name }) => name === column.field);
  const { form } = column;
  if (!field) return true;
  if (cell === ideal) return true;
  if (form.kind === 'time') return form.as === 'rfc3339' && cell === ideal.replace(/Z$/, '+00:00');
  if (form.kind !== 'number' || field.kind !== 'number') return false;
  const value = reading[field.key];
  if (value === null || cell === column.nullAs) return false;
  const written = decimal(cell);
  const [factor, within] = [decimal(plain(form.factor)), decimal(plain(form.within))];
  if (!written || !factor || !within) return false;
  if (form.decimals !== null && written.places !== form.decimals) return false;
  // All at one number of places, so that whole numbers can be compared.
  const places = Math.max(written.places, field.decimals + factor.places, within.places);
  const at = (digits: bigint, from: number) => digits * 10n ** BigInt(places - from);
  const due = at(BigInt(value) * factor.digits, field.decimals + factor.places);
  const off = at(written.digits, written.places) - due;
  return (off < 0n ? -off : off) <= at(within.digits, within.places);
}

/** `-12.50` is -1250 at 2 places. */
function decimal(text: string): { digits: bigint; places: number } | undefined {
  const match = /^(-?)(0|[1-9][0-9]*)(?:\.([0-9]+))?$/.exec(text);
  if (!match) return undefined;
  const fraction = match[3] ?? '';
  const digits = BigInt(`${match[2]}${fraction}`);
  return { digits: match[1] === '-' ? -digits : digits, places: fraction.length };
}

const plain = (value: number): string => value.toFixed(12).replace(/\.?0+$/, '');
