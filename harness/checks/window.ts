// Exports of periods [from, to) against the export of the whole, row by row, as two streams.
// What is kept is only what differs, so memory grows with damage, not with rows.
import { utcText } from '../../sim/index.ts';
import type { Contract } from '../contract/contract.ts';
import {
  CausedCollector,
  STABLE_HYPOTHESES,
  WINDOW_HYPOTHESES,
  type RowInstance,
  type WindowInstance,
} from '../diagnose/index.ts';
import type { CheckResult, Example } from '../verdict/verdict.ts';
import { notSeen, result, type CheckAbout } from './check.ts';
import type { RowTimes } from './row-times.ts';

/** One record of an export, as text cells. */
export interface TextRow {
  readonly cells: readonly string[];
  readonly record: number;
  readonly line: number;
}

/** Data rows of a file, a batch at a time. */
export type RowBatches = AsyncIterator<readonly TextRow[], void>;

/** A period that was exported into a file of its own. */
export interface WindowExport {
  readonly fromMs: number;
  readonly toMs: number;
  readonly file: string;
  rows(): RowBatches;
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
  readonly missing: CausedCollector<WindowInstance>;
  readonly outside: CausedCollector<WindowInstance>;
  readonly surplus: CausedCollector<WindowInstance>;
  readonly order: CausedCollector<RowInstance>;
  rows: number;
}

function difference(): Difference {
  const of = (what: string) => new CausedCollector(what, 'export', WINDOW_HYPOTHESES);
  return {
    missing: of('rows of the whole export are missing from the window they belong to'),
    outside: of('rows stand in a window they do not belong to'),
    surplus: of('rows of a window are missing from the whole export'),
    order: new CausedCollector(
      'rows stand in another order than in the whole export',
      'export',
      STABLE_HYPOTHESES,
    ),
    rows: 0,
  };
}

/**
 * Compares windows, and a second export of the whole, with the whole, which is read once.
 * `times` knows of its rows what their cells leave open.
 */
export async function checkWindows(
  contract: Contract,
  times: RowTimes | undefined,
  whole: RowBatches,
  windows: readonly WindowExport[],
  again: WindowExport | undefined,
): Promise<[exact: CheckResult, stable: CheckResult]> {
  const exact = difference();
  const stable = difference();
  const comparisons = [
    ...(times
      ? windows.map((window) => new Comparison(contract, window, withinWindow(times, window), times, exact))
      : []),
    ...(again ? [new Comparison(contract, again, EVERYTHING, times, stable)] : []),
  ];
  for (let step = await whole.next(); !step.done; step = await whole.next()) {
    for (const comparison of comparisons) await comparison.due(step.value);
  }
  for (const comparison of comparisons) await comparison.end();
  return [exactResult(exact, windows.length, times), stableResult(stable, contract, again)];
}

function exactResult(total: Difference, windows: number, times: RowTimes | undefined): CheckResult {
  if (windows === 0) return notSeen(WINDOW_EXACT, 'no period was exported beside the whole');
  if (!times) return notSeen(WINDOW_EXACT, 'the column that windows go by is not exported as a time');
  return result(WINDOW_EXACT, total.rows, `${windows} windows, ${total.rows} rows in them`, [
    ...total.missing.findings(),
    ...total.outside.findings(),
    ...total.surplus.findings(),
  ]);
}

function stableResult(total: Difference, contract: Contract, again: WindowExport | undefined): CheckResult {
  if (!again) return notSeen(ORDER_STABLE, 'the whole period was exported once only');
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

interface Membership {
  /** Whether a row of the whole should be in the window. */
  readonly wanted: (row: TextRow) => boolean;
  /** Whether a row of the window may be in it. */
  readonly belongs: (row: TextRow) => boolean;
}

const EVERYTHING: Membership = { wanted: () => true, belongs: () => true };

function withinWindow(times: RowTimes, { fromMs, toMs }: WindowExport): Membership {
  const isIn = (atMs: number): boolean => atMs >= fromMs && atMs < toMs;
  return {
    wanted: (row) => times.ofWhole(row).some(isIn),
    belongs: (row) => times.ofCell(row).some(isIn),
  };
}

/** One export set against the whole. */
class Comparison {
  readonly #contract: Contract;
  readonly #window: WindowExport;
  readonly #membership: Membership;
  readonly #times: RowTimes | undefined;
  readonly #total: Difference;
  readonly #rows: RowBatches;
  #batch: readonly TextRow[] = [];
  #next = 0;
  /** Rows that only one side has, so far. */
  readonly #open = new Map<string, { row: TextRow; count: number }>();
  #same = 0;
  #last: TextRow | undefined;
  #disorder: { readonly row: TextRow; readonly before: TextRow | undefined } | undefined;

  constructor(
    contract: Contract,
    window: WindowExport,
    membership: Membership,
    times: RowTimes | undefined,
    total: Difference,
  ) {
    this.#contract = contract;
    this.#window = window;
    this.#membership = membership;
    this.#times = times;
    this.#total = total;
    this.#rows = window.rows();
  }

  /** Takes rows of the whole, in file order. */
  async due(rows: readonly TextRow[]): Promise<void> {
    for (const row of rows) {
      if (!this.#membership.wanted(row)) continue;
      if (this.#next >= this.#batch.length) await this.#refill();
      this.#pair(row, this.#take());
    }
  }

  /** Takes what is left of the window, and counts the differences. */
  async end(): Promise<void> {
    for (;;) {
      if (this.#next >= this.#batch.length) await this.#refill();
      const found = this.#take();
      if (!found) break;
      this.#pair(undefined, found);
    }
    this.#count();
  }

  async #refill(): Promise<void> {
    const step = await this.#rows.next();
    this.#batch = step.done ? [] : step.value;
    this.#next = 0;
  }

  #take(): TextRow | undefined {
    const row = this.#batch[this.#next];
    if (!row) return undefined;
    this.#next += 1;
    this.#total.rows += 1;
    return row;
  }

  #pair(due: TextRow | undefined, found: TextRow | undefined): void {
    const last = this.#last;
    this.#last = found;
    if (due && found && isSame(due.cells, found.cells)) {
      this.#same += 1;
      return;
    }
    if (found) this.#disorder ??= { row: found, before: last };
    if (due) this.#shift(due, 1);
    if (found) this.#shift(found, -1);
  }

  #shift(row: TextRow, by: 1 | -1): void {
    const key = JSON.stringify(row.cells);
    const entry = this.#open.get(key);
    if (!entry) this.#open.set(key, { row, count: by });
    else if (entry.count + by === 0) this.#open.delete(key);
    else entry.count += by;
  }

  #count(): void {
    const { fromMs, toMs } = this.#window;
    for (const { row, count } of this.#open.values()) {
      const kind = count > 0 ? 'missing' : this.#membership.belongs(row) ? 'surplus' : 'outside';
      for (let k = 0; k < Math.abs(count); k++) {
        this.#total[kind].add(row.cells[0], () => ({
          instance: { atMs: this.#atMs(row), fromMs, toMs, kind, rowsBefore: this.#same },
          example: this.#example(row),
        }));
      }
    }
    if (!this.#disorder || this.#open.size > 0) return;
    const { row, before } = this.#disorder;
    this.#total.order.add(undefined, () => ({
      instance: {
        cells: row.cells,
        columns: this.#contract.columns,
        record: row.record,
        before: before?.cells,
        firstRecord: undefined,
        atMs: this.#atMs(row),
        order: this.#contract.order,
      },
      example: this.#example(row),
    }));
  }

  #atMs(row: TextRow): number {
    return this.#times?.ofCell(row)[0] ?? Number.NaN;
  }

  /** `record` and `line` are those of the file in which the row stands: the whole export for a missing one. */
  #example(row: TextRow): Example {
    const { file, fromMs, toMs } = this.#window;
    const atMs = this.#atMs(row);
    return {
      file,
      record: row.record,
      line: row.line,
      ...(Number.isNaN(atMs) ? {} : { at: utcText(atMs) }),
      expected: `[${utcText(fromMs)}, ${utcText(toMs)})`,
      found: row.cells.slice(0, 5).join(' · '),
    };
  }
}

function isSame(a: readonly string[], b: readonly string[]): boolean {
  if (a.length !== b.length) return false;
  for (let k = 0; k < a.length; k++) if (a[k] !== b[k]) return false;
  return true;
}
