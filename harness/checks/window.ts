// Exports of periods [from, to) against the export of the whole, row by row, as two streams.
// What is kept is only what differs, so memory grows with damage, not with rows.
import { utcText } from '../../sim/index.ts';
import type { Contract } from '../contract/contract.ts';
import { Collector } from '../verdict/collector.ts';
import type { CheckResult, Example } from '../verdict/verdict.ts';
import { notSeen, result, type CheckAbout } from './check.ts';
import type { RowTimes } from './row-times.ts';

/** One record of an export, as text cells. */
export interface TextRow {
  readonly cells: readonly string[];
  readonly record: number;
  readonly line: number;
}

/** A period that was exported into a file of its own. */
export interface WindowExport {
  readonly fromMs: number;
  readonly toMs: number;
  readonly file: string;
  /** Data rows only. */
  rows(): AsyncIterator<TextRow, void>;
}

export const WINDOW_EXACT: CheckAbout = {
  id: 'window.exact',
  family: 'window',
  promise: 'an export of [from, to) holds exactly the rows measured in it; neighbours add up to the whole',
  proves:
    'each window holds the rows of the whole export whose time lies in it, boundary instants included once',
  cannotProve: 'the completeness of the whole export itself; ingest.complete does that',
};

export const ORDER_STABLE: CheckAbout = {
  id: 'ordering.stable',
  family: 'ordering',
  promise: 'two exports of one period are the same, row for row',
  proves: 'the second export equals the first in every row and in their order',
  cannotProve: 'that a third would',
};

/** Where one export differs from another. */
interface Difference {
  readonly missing: Collector;
  readonly outside: Collector;
  readonly surplus: Collector;
  readonly order: Collector;
  rows: number;
}

function difference(): Difference {
  return {
    missing: new Collector('rows of the whole export are missing from the window they belong to', 'export'),
    outside: new Collector('rows stand in a window they do not belong to', 'export'),
    surplus: new Collector('rows of a window are missing from the whole export', 'export'),
    order: new Collector('rows stand in another order than in the whole export', 'export'),
    rows: 0,
  };
}

/** `times` knows of the whole export's rows what their cells leave open. */
export async function checkWindows(
  times: RowTimes | undefined,
  whole: () => AsyncIterator<TextRow, void>,
  windows: readonly WindowExport[],
): Promise<CheckResult> {
  if (windows.length === 0) return notSeen(WINDOW_EXACT, 'no period was exported beside the whole');
  if (!times) return notSeen(WINDOW_EXACT, 'the column that windows go by is not exported as a time');
  const total = difference();
  for (const window of windows) {
    const isIn = (atMs: number): boolean => atMs >= window.fromMs && atMs < window.toMs;
    const wanted = (row: TextRow): boolean => times.ofWhole(row).some(isIn);
    const belongs = (row: TextRow): boolean => times.ofCell(row).some(isIn);
    await compare(whole(), wanted, window, belongs, times, total);
  }
  return result(WINDOW_EXACT, total.rows, `${windows.length} windows, ${total.rows} rows in them`, [
    ...total.missing.findings(),
    ...total.outside.findings(),
    ...total.surplus.findings(),
  ]);
}

export async function checkStable(
  contract: Contract,
  times: RowTimes | undefined,
  whole: () => AsyncIterator<TextRow, void>,
  again: WindowExport | undefined,
): Promise<CheckResult> {
  if (!again) return notSeen(ORDER_STABLE, 'the whole period was exported once only');
  const total = difference();
  const all = (): boolean => true;
  await compare(whole(), all, again, all, times, total);
  const findings = [...total.missing.findings(), ...total.surplus.findings()];
  const ordered = contract.order.length > 0;
  // Where rows differ, their order says nothing of its own.
  return result(
    ORDER_STABLE,
    total.rows,
    `${total.rows} rows exported twice${ordered ? '' : '; the contract promises no order of rows'}`,
    findings.length > 0 || !ordered ? findings : total.order.findings(),
  );
}

/** `wanted`: which rows of the whole the window should hold. `belongs`: whether a row of the window may be in it. */
async function compare(
  whole: AsyncIterator<TextRow, void>,
  wanted: (row: TextRow) => boolean,
  window: WindowExport,
  belongs: (row: TextRow) => boolean,
  times: RowTimes | undefined,
  total: Difference,
): Promise<void> {
  const nextWanted = async (): Promise<TextRow | undefined> => {
    for (;;) {
      const step = await whole.next();
      if (step.done) return undefined;
      if (wanted(step.value)) return step.value;
    }
  };
  const open = new Map<string, { row: TextRow; count: number }>();
  const shift = (row: TextRow, by: 1 | -1): void => {
    const key = JSON.stringify(row.cells);
    const entry = open.get(key);
    if (!entry) open.set(key, { row, count: by });
    else if (entry.count + by === 0) open.delete(key);
    else entry.count += by;
  };
  const rows = window.rows();
  let disorder: TextRow | undefined;
  for (;;) {
    const due = await nextWanted();
    const step = await rows.next();
    const found = step.done ? undefined : step.value;
    if (found !== undefined) total.rows += 1;
    if (due === undefined && found === undefined) break;
    if (due && found && isSame(due.cells, found.cells)) continue;
    disorder ??= found;
    if (due) shift(due, 1);
    if (found) shift(found, -1);
  }
  const exampleOf = (row: TextRow): Example => example(row, window, times?.ofCell(row)[0]);
  for (const { row, count } of open.values()) {
    const collector = count > 0 ? total.missing : belongs(row) ? total.surplus : total.outside;
    for (let k = 0; k < Math.abs(count); k++) collector.add(row.cells[0], () => exampleOf(row));
  }
  if (disorder && open.size === 0) {
    const row = disorder;
    total.order.add(undefined, () => exampleOf(row));
  }
}

/** `record` and `line` are those of the file in which the row stands: the whole export for a missing one. */
function example(row: TextRow, window: WindowExport, atMs: number | undefined): Example {
  return {
    file: window.file,
    record: row.record,
    line: row.line,
    ...(atMs === undefined ? {} : { at: utcText(atMs) }),
    expected: `[${utcText(window.fromMs)}, ${utcText(window.toMs)})`,
    found: row.cells.slice(0, 5).join(' · '),
  };
}

function isSame(a: readonly string[], b: readonly string[]): boolean {
  if (a.length !== b.length) return false;
  for (let k = 0; k < a.length; k++) if (a[k] !== b[k]) return false;
  return true;
}
