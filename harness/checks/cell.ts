// One cell against what was measured, under the contract's promise for its column.
import { FIELDS, parseUtc, utcText, type Field, type Reading } from '../../sim/index.ts';
import type { Column, ColumnForm } from '../contract/contract.ts';
import { Zone } from './zone.ts';

/** What is wrong with a cell. `form`: the right value, written otherwise than promised. */
export type CellFault = 'number' | 'text' | 'time' | 'absent' | 'form';

/** Judges the cells of one column. */
export interface CellJudge {
  readonly column: Column;
  /** undefined where the cell is as promised. */
  judge(cell: string, reading: Reading): CellFault | undefined;
  /** How the promise would write the reading's value. */
  expected(reading: Reading): string;
}

/** The judge of a column, or undefined for a column that isn't of a reading. */
export function cellJudge(column: Column, formulaGuard: string): CellJudge | undefined {
  const field = FIELDS.find((candidate) => candidate.name === column.field);
  if (!field) return undefined;
  if (field.kind === 'text') return new TextJudge(column, field, formulaGuard);
  if (field.kind === 'time') return new TimeJudge(column);
  return new NumberJudge(column, field);
}

/** A whole number of 10^-decimals as shortest decimal text, e.g. (-383912345, 7) → `-38.3912345`. */
export function decimalText(scaled: number, decimals: number, keepZeros = false): string {
  const digits = String(Math.abs(scaled)).padStart(decimals + 1, '0');
  const whole = digits.slice(0, digits.length - decimals);
  const fraction = digits.slice(digits.length - decimals);
  const kept = keepZeros ? fraction : fraction.replace(/0+$/, '');
  return `${scaled < 0 ? '-' : ''}${whole}${kept === '' ? '' : `.${kept}`}`;
}

const PLAIN_NUMBER = /^-?(?:0|[1-9]\d*)(?:\.(\d+))?$/;

class NumberJudge implements CellJudge {
  readonly column: Column;
  readonly #key: Extract<Field, { kind: 'number' }>['key'];
  readonly #fieldDecimals: number;
  readonly #scale: number;
  readonly #form: Extract<ColumnForm, { kind: 'number' }>;

  constructor(column: Column, field: Extract<Field, { kind: 'number' }>) {
    if (column.form.kind !== 'number') throw new Error(`column ${column.name} isn't a number`);
    this.column = column;
    this.#key = field.key;
    this.#fieldDecimals = field.decimals;
    this.#scale = 10 ** field.decimals;
    this.#form = column.form;
  }

  judge(cell: string, reading: Reading): CellFault | undefined {
    const scaled = reading[this.#key];
    if (scaled === null) return cell === this.column.nullAs ? undefined : 'absent';
    // A contract may write absence as a number, such as 0: then that number is no fault.
    if (cell === this.column.nullAs && cell !== this.expected(reading)) return 'absent';
    if (cell.trim() === '') return 'absent';
    const value = Number(cell);
    if (!this.#isEqual(value, scaled)) return 'number';
    const plain = PLAIN_NUMBER.exec(cell);
    if (plain === null) return 'form';
    if (this.#form.decimals !== null && (plain[1]?.length ?? 0) !== this.#form.decimals) return 'form';
    return undefined;
  }

  #isEqual(value: number, scaled: number): boolean {
    const { factor, within } = this.#form;
    // Both sides are the double nearest to the same decimal, so equal decimals are equal doubles.
    if (factor === 1 && within === 0) return value === scaled / this.#scale;
    // A cell rounded at the half is off by `within` exactly, which doubles hit only to their last bits;
    // a product depends on the order of the pipeline's own steps.
    const slack = Math.abs(value) * (factor === 1 ? 4 * Number.EPSILON : 1e-12);
    return Math.abs(value - (scaled / this.#scale) * factor) <= within + slack;
  }

  expected(reading: Reading): string {
    const scaled = reading[this.#key];
    if (scaled === null) return this.column.nullAs ?? '';
    if (this.#form.factor !== 1) return String((scaled / this.#scale) * this.#form.factor);
    if (this.#form.decimals === null || this.#form.decimals < this.#fieldDecimals) {
      return decimalText(scaled, this.#fieldDecimals);
    }
    const more = this.#form.decimals - this.#fieldDecimals;
    const text = decimalText(scaled, this.#fieldDecimals, true);
    return more === 0 ? text : `${text}${text.includes('.') ? '' : '.'}${'0'.repeat(more)}`;
  }
}

class TextJudge implements CellJudge {
  readonly column: Column;
  readonly #key: Extract<Field, { kind: 'text' }>['key'];
  readonly #guard: string;

  constructor(column: Column, field: Extract<Field, { kind: 'text' }>, guard: string) {
    this.column = column;
    this.#key = field.key;
    this.#guard = guard;
  }

  judge(cell: string, reading: Reading): CellFault | undefined {
    return cell === this.expected(reading) ? undefined : 'text';
  }

  expected(reading: Reading): string {
    const text = reading[this.#key];
    return this.#guard !== '' && /^[=+\-@]/.test(text) ? this.#guard + text : text;
  }
}

class TimeJudge implements CellJudge {
  readonly column: Column;
  readonly #form: Extract<ColumnForm, { kind: 'time' }>;
  readonly #zone: Zone;
  readonly #unitMs: number;

  constructor(column: Column) {
    if (column.form.kind !== 'time') throw new Error(`column ${column.name} isn't a time`);
    this.column = column;
    this.#form = column.form;
    this.#zone = new Zone(column.form.zone);
    this.#unitMs = timeUnitMs(column.form);
  }

  judge(cell: string, reading: Reading): CellFault | undefined {
    if (cell === this.expected(reading)) return undefined;
    if (cell.trim() === '') return 'absent';
    const times = timesOf(cell, this.#form, this.#zone);
    const wanted = this.#cut(reading.atMs);
    if (!times.some((atMs) => this.#cut(atMs) === wanted)) return 'time';
    return this.#form.as === 'rfc3339' && isSameForm(cell, this.expected(reading)) ? undefined : 'form';
  }

  expected(reading: Reading): string {
    return timeText(reading.atMs, this.#form, this.#zone);
  }

  #cut(atMs: number): number {
    return Math.floor(atMs / this.#unitMs);
  }
}

/** The same instant may be written with another offset spelling (`Z`, `+00:00`), but not with other digits. */
function isSameForm(cell: string, expected: string): boolean {
  return cell.replace(/\+00:00$/, 'Z') === expected.replace(/\+00:00$/, 'Z');
}

/** Resolution of a time form, ms. */
export function timeUnitMs(form: Extract<ColumnForm, { kind: 'time' }>): number {
  return form.as === 'epoch-ms' ? 1 : 10 ** (3 - form.secondDecimals);
}

/** How a time form writes an instant. Digits past the promised ones are cut. */
export function timeText(atMs: number, form: Extract<ColumnForm, { kind: 'time' }>, zone: Zone): string {
  if (form.as === 'epoch-ms') return String(atMs);
  if (form.as === 'epoch-s') {
    return decimalText(Math.floor(atMs / timeUnitMs(form)), form.secondDecimals, true);
  }
  const offsetMs = zone.offsetMs(atMs);
  const utc = utcText(atMs + offsetMs);
  const cut = form.secondDecimals === 0 ? 19 : 20 + form.secondDecimals;
  if (form.as === 'local') return utc.slice(0, cut).replace('T', ' ');
  return utc.slice(0, cut) + offsetText(offsetMs);
}

function offsetText(offsetMs: number): string {
  if (offsetMs === 0) return 'Z';
  const minutes = Math.abs(offsetMs) / 60_000;
  const two = (n: number) => String(n).padStart(2, '0');
  return `${offsetMs < 0 ? '-' : '+'}${two(Math.floor(minutes / 60))}:${two(minutes % 60)}`;
}

const LOCAL = /^(\d{4}-\d\d-\d\d)[ T](\d\d:\d\d:\d\d(?:\.\d{1,9})?)$/;
const WHOLE = /^-?\d+$/;
const DECIMAL = /^-?\d+(?:\.\d+)?$/;

/** The instants that a cell may mean, ms: none where it is no time of this form, two in a fold of local time. */
export function timesOf(cell: string, form: Extract<ColumnForm, { kind: 'time' }>, zone: Zone): number[] {
  if (form.as === 'epoch-ms') return WHOLE.test(cell) ? instant(Number(cell)) : [];
  if (form.as === 'epoch-s') return DECIMAL.test(cell) ? instant(Math.round(Number(cell) * 1000)) : [];
  if (form.as === 'rfc3339') {
    const atMs = parseUtc(cell);
    return atMs === undefined ? [] : [atMs];
  }
  const local = LOCAL.exec(cell);
  const wallMs = local ? parseUtc(`${local[1]}T${local[2]}Z`) : undefined;
  return wallMs === undefined ? [] : zone.instantsOf(wallMs);
}

function instant(atMs: number): number[] {
  return Number.isSafeInteger(atMs) ? [atMs] : [];
}
