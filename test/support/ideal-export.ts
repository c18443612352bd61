// The export that a faultless pipeline would make, straight from the trackers' events, with quoting, number and
// time formatting of its own: nothing of harness/pipeline, harness/csv or harness/checks is used to write it.
import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { judgeExport } from '../../harness/checks/judge.ts';
import type { Column, Contract } from '../../harness/contract/contract.ts';
import { DUE_ON_TRUST } from '../../harness/expected/due.ts';
import type { DueOf } from '../../harness/expected/expected.ts';
import type { CheckResult } from '../../harness/verdict/verdict.ts';
import {
  FIELDS,
  rosterOf,
  trackerEvents,
  type Emission,
  type Reading,
  type Scenario,
} from '../../sim/index.ts';

/** One row of the ideal export. */
export interface IdealRow {
  readonly reading: Reading;
  readonly emission: Emission;
  readonly cells: readonly string[];
}

/** The rows that everything sent makes, in the contract's order. A reading that is sent twice is one row. */
export function idealRows(scenario: Scenario, contract: Contract): IdealRow[] {
  const rows: IdealRow[] = [];
  for (const spec of rosterOf(scenario)) {
    for (const event of trackerEvents(scenario, spec)) {
      if (event.kind !== 'emission' || event.repeat) continue;
      for (const reading of event.readings) {
        const cells = contract.columns.map((column) => cellText(column, reading, contract.csv.formulaGuard));
        rows.push({ reading, emission: event, cells });
      }
    }
  }
  return rows.toSorted((a, b) => {
    for (const { column, direction } of contract.order) {
      const field = FIELDS.find(
        ({ name }) => name === contract.columns.find(({ name: of }) => of === column)?.field,
      );
      if (!field) continue;
      const [x, y] = [a.reading[field.key] ?? -Infinity, b.reading[field.key] ?? -Infinity];
      const order =
        typeof x === 'number' && typeof y === 'number'
          ? x - y || 0
          : Buffer.compare(Buffer.from(String(x)), Buffer.from(String(y)));
      if (order !== 0) return direction === 'rising' ? order : -order;
    }
    return 0;
  });
}

/** The cell that the column's promise asks for. */
export function cellText(column: Column, reading: Reading, guard = ''): string {
  const field = FIELDS.find(({ name }) => name === column.field);
  const { form } = column;
  if (!field) return '';
  const value = reading[field.key];
  if (value === null) return column.nullAs ?? '';
  if (field.kind === 'number' && form.kind === 'number') {
    // Decimal point shifted in the text of the whole number: no binary fraction is involved.
    const digits = BigInt(value)
      .toString()
      .replace('-', '')
      .padStart(field.decimals + 1, '0');
    const cut = digits.length - field.decimals;
    const exact = `${Number(value) < 0 ? '-' : ''}${digits.slice(0, cut)}.${digits.slice(cut)}`;
    if (form.factor !== 1 || (form.decimals !== null && form.decimals < field.decimals)) {
      const product = Number(exact) * form.factor;
      return form.decimals === null ? String(product) : product.toFixed(form.decimals);
    }
    const short = exact.replace(/\.?0*$/, '');
    if (form.decimals === null) return short;
    const more = '0'.repeat(form.decimals - field.decimals);
    return form.decimals === 0 ? exact.replace('.', '') : exact + more;
  }
  if (field.kind === 'time' && form.kind === 'time') return instantText(Number(value), form);
  const text = String(value);
  return guard !== '' && '=+-@'.includes(text.charAt(0) || ' ') ? guard + text : text;
}

function instantText(atMs: number, form: Extract<Column['form'], { kind: 'time' }>): string {
  const ms = String(atMs % 1000).padStart(3, '0');
  const fraction = form.secondDecimals === 0 ? '' : `.${ms.slice(0, form.secondDecimals)}`;
  if (form.as === 'epoch-ms') return String(atMs);
  if (form.as === 'epoch-s') return `${Math.trunc(atMs / 1000)}${fraction}`;
  // The Swedish locale writes `YYYY-MM-DD HH:MM:SS`.
  const wall = new Intl.DateTimeFormat('sv-SE', {
    timeZone: form.zone,
    dateStyle: 'short',
    timeStyle: 'medium',
  }).format(atMs);
  if (form.as === 'local') return wall + fraction;
  const offset = new Intl.DateTimeFormat('en', { timeZone: form.zone, timeZoneName: 'longOffset' })
    .formatToParts(atMs)
    .find(({ type }) => type === 'timeZoneName')
    ?.value.replace('GMT', '');
  return `${wall.replace(' ', 'T')}${fraction}${offset === undefined || form.zone === 'UTC' ? 'Z' : offset}`;
}

export type Cells = readonly (readonly string[])[];

/** Records as bytes, by RFC 4180 section 2: quotes only where rules 6 and 7 ask for them. */
export function csvBytes(contract: Contract, rows: Cells): Buffer {
  const { delimiter, lineEnd, header, byteOrderMark } = contract.csv;
  const end = lineEnd === 'lf' ? '\n' : '\r\n';
  const records = header ? [contract.columns.map(({ name }) => name), ...rows] : rows;
  const text = records
    .map((cells) => cells.map((cell) => quoteIfNeeded(cell, delimiter)).join(delimiter) + end)
    .join('');
  return Buffer.from((byteOrderMark === 'required' ? '\ufeff' : '') + text);
}

export function quoteIfNeeded(cell: string, delimiter: string): string {
  const needed = cell.includes(delimiter) || /["\r\n]/.test(cell) || cell.startsWith('\ufeff');
  return needed ? quoted(cell) : cell;
}

export function quoted(cell: string): string {
  return `"${cell.replaceAll('"', '""')}"`;
}

/** A period and the export of it. */
export interface Window {
  readonly fromMs: number;
  readonly toMs: number;
  readonly bytes: Uint8Array;
}

export function idealWindow(
  contract: Contract,
  rows: readonly IdealRow[],
  fromMs: number,
  toMs: number,
): Window {
  const inside = rows.filter(({ reading: { atMs } }) => fromMs <= atMs && atMs < toMs);
  return { fromMs, toMs, bytes: csvBytes(contract, cellsOf(inside)) };
}

export function cellsOf(rows: readonly IdealRow[]): Cells {
  return rows.map(({ cells }) => cells);
}

export interface ToJudge {
  readonly scenario: Scenario;
  readonly contract: Contract;
  readonly whole: Uint8Array;
  readonly again?: Uint8Array;
  readonly windows?: readonly Window[];
  readonly dueOf?: DueOf;
}

/** Every check's result over these bytes, by id. They are judged as files, as a user's are. */
export async function judged(input: ToJudge): Promise<ReadonlyMap<string, CheckResult>> {
  const folder = await mkdtemp(join(tmpdir(), 'wayproof-judge-'));
  try {
    let files = 0;
    const write = async (bytes: Uint8Array): Promise<string> => {
      const file = join(folder, `${(files += 1)}.csv`);
      await writeFile(file, bytes);
      return file;
    };
    const all = { fromMs: 0, toMs: 4e12 };
    const windows = [];
    for (const { bytes, ...period } of input.windows ?? []) {
      windows.push({ ...period, file: await write(bytes) });
    }
    const { checks } = await judgeExport({
      scenario: input.scenario,
      contract: input.contract,
      dueOf: input.dueOf ?? DUE_ON_TRUST,
      whole: { ...all, file: await write(input.whole) },
      again: input.again && { ...all, file: await write(input.again) },
      windows,
    });
    return new Map(checks.map((check) => [check.id, check]));
  } finally {
    await rm(folder, { recursive: true, force: true });
  }
}

/** The ids of the checks with an outcome, in the order of the report. */
export function ids(results: ReadonlyMap<string, CheckResult>, outcome: CheckResult['outcome']): string[] {
  return [...results.values()].filter((check) => check.outcome === outcome).map(({ id }) => id);
}
