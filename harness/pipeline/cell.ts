// How a stored value is written in the CSV.
import type { Column, ColumnForm, Contract } from '../contract/contract.ts';
import { csvCell, quotedCell } from '../csv/writer.ts';
import { zoneOffset } from './zone.ts';

/** Writes one value of the store as a finished CSV cell. */
export type CellWriter = (value: unknown) => string;

export function cellWriter(column: Column, csv: Contract['csv']): CellWriter {
  const absent = csvCell(column.nullAs ?? '', csv.delimiter);
  const write = valueWriter(column.form, csv.formulaGuard);
  const text = column.form.kind === 'text';
  // Numbers and times need quotes only where the delimiter is one of their own characters.
  const plain = !text && !/[\d.:TZ +-]/.test(csv.delimiter);
  return (value) => {
    if (value === null || value === undefined) return absent;
    const cell = write(value);
    if (plain) return cell;
    // Text that looks like an absent value is told apart by its quotes.
    if (text && cell === column.nullAs) return quotedCell(cell);
    return csvCell(cell, csv.delimiter);
  };
}

function valueWriter(form: ColumnForm, formulaGuard: string): (value: unknown) => string {
  switch (form.kind) {
    case 'text':
      return (value) => {
        const text = String(value);
        return formulaGuard !== '' && /^[=+\-@]/.test(text) ? formulaGuard + text : text;
      };
    case 'number':
      return (value) => numberText(Number(value) * form.factor, form.decimals);
    case 'time':
      return timeWriter(form);
  }
}

/** `decimals` digits after the point; null = the shortest text that reads back as the same double. */
export function numberText(value: number, decimals: number | null): string {
  const text = decimals === null ? withoutExponent(String(value)) : value.toFixed(decimals);
  // Not "-0.0": a zero has no sign.
  return text.startsWith('-') && Number(text) === 0 ? text.slice(1) : text;
}

/** JavaScript writes 1e-7 and 1e+21, which not every reader of CSV takes for numbers. */
function withoutExponent(text: string): string {
  if (!text.includes('e')) return text;
  const match = /^(-?)(\d)(?:\.(\d+))?e([+-]\d+)$/.exec(text);
  if (match === null) return text;
  const digits = `${match[2] ?? ''}${match[3] ?? ''}`;
  const point = 1 + Number(match[4]);
  const plain = point <= 0 ? `0.${'0'.repeat(-point)}${digits}` : digits.padEnd(point, '0');
  return `${match[1] ?? ''}${plain}`;
}

function timeWriter(form: Extract<ColumnForm, { kind: 'time' }>): (value: unknown) => string {
  const digits = form.secondDecimals;
  switch (form.as) {
    case 'epoch-ms':
      return (value) => String(value);
    case 'epoch-s':
      return (value) => {
        const ms = Number(value);
        // Before 1970 the fraction counts away from zero, as the sign does.
        const text = `${Math.floor(Math.abs(ms) / 1000)}${fractionText(Math.abs(ms), digits)}`;
        return ms < 0 ? `-${text}` : text;
      };
    case 'local':
    case 'rfc3339': {
      const offsetOf = zoneOffset(form.zone);
      return (value) => {
        const ms = Number(value);
        const offsetMs = offsetOf(ms);
        const wall = new Date(ms + offsetMs).toISOString();
        const fraction = fractionText(ms, digits);
        if (form.as === 'local') return `${wall.slice(0, 10)} ${wall.slice(11, 19)}${fraction}`;
        return `${wall.slice(0, 19)}${fraction}${form.zone === 'UTC' ? 'Z' : offsetText(offsetMs)}`;
      };
    }
  }
}

/** Digits of the second after the point, cut. */
function fractionText(ms: number, digits: number): string {
  if (digits === 0) return '';
  const inSecond = ((ms % 1000) + 1000) % 1000;
  return `.${String(inSecond).padStart(3, '0').slice(0, digits)}`;
}

function offsetText(offsetMs: number): string {
  const minutes = Math.abs(Math.round(offsetMs / 60_000));
  const two = (n: number): string => String(n).padStart(2, '0');
  return `${offsetMs < 0 ? '-' : '+'}${two(Math.floor(minutes / 60))}:${two(minutes % 60)}`;
}
