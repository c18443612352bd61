// One export set against the whole, row by row, as two streams.
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
import { Collector } from '../verdict/collector.ts';
import type { Example } from '../verdict/verdict.ts';
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

/** Where one export differs from another. */
export interface Difference {
  readonly missing: CausedCollector<WindowInstance>;
  readonly outside: CausedCollector<WindowInstance>;
  readonly surplus: CausedCollector<WindowInstance>;
  /** Rows of one identity whose cells aren't the same. */
  readonly unlike: Collector;
  readonly order: CausedCollector<RowInstance>;
  rows: number;
}

interface DifferenceWords {
  readonly missing: string;
  readonly surplus: string;
  readonly unlike: string;
}

export const IN_WINDOW: DifferenceWords = {
  missing: 'rows of the whole export are missing from the window they belong to',
  surplus: 'rows of a window are missing from the whole export',
  unlike: 'rows differ between the window and the whole export',
};

export const IN_SECOND: DifferenceWords = {
  missing: 'rows of the whole export are missing from the second export',
  surplus: 'rows of the second export are missing from the whole export',
  unlike: 'rows differ between the second export and the whole export',
};

export function difference({ missing, surplus, unlike }: DifferenceWords): Difference {
  const of = (what: string) => new CausedCollector(what, 'export', WINDOW_HYPOTHESES);
  return {
    missing: of(missing),
    outside: of('rows stand in a window they do not belong to'),
    surplus: of(surplus),
    unlike: new Collector(unlike, 'export'),
    order: new CausedCollector(
      'rows stand in another order than in the whole export',
      'export',
      STABLE_HYPOTHESES,
    ),
    rows: 0,
  };
}

export interface Membership {
  /** Whether a row of the whole should be in the window. */
  readonly wanted: (row: TextRow) => boolean;
  /** Whether a row of the window may be in it. */
  readonly belongs: (row: TextRow) => boolean;
}

/** Cells that one side has more often: the whole where `count` is above 0, the window where it is below. */
interface OpenRow {
  readonly row: TextRow;
  count: number;
}

/** One export set against the whole. */
export class Comparison {
  readonly #contract: Contract;
  readonly #window: WindowExport;
  readonly #membership: Membership;
  readonly #times: RowTimes | undefined;
  readonly #total: Difference;
  readonly #rows: RowBatches;
  readonly #id: number;
  readonly #identity: readonly number[];
  #batch: readonly TextRow[] = [];
  #next = 0;
  /** Rows that only one side has, so far. */
  readonly #open = new Map<string, OpenRow>();
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
    this.#id = contract.columns.findIndex(({ field }) => field === 'id');
    this.#identity = contract.identity.map((name) =>
      contract.columns.findIndex((column) => column.name === name),
    );
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
    const hadDifferences = this.#open.size > 0;
    this.#countUnlike();
    for (const { row, count } of this.#open.values()) {
      const kind = count > 0 ? 'missing' : this.#membership.belongs(row) ? 'surplus' : 'outside';
      for (let k = 0; k < Math.abs(count); k++) {
        this.#total[kind].add(this.#trackerOf(row), () => ({
          instance: { atMs: this.#atMs(row), fromMs, toMs, kind, rowsBefore: this.#same },
          example: this.#example(row, kind !== 'missing'),
        }));
      }
    }
    if (!this.#disorder || hadDifferences) return;
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
      example: this.#example(row, true),
    }));
  }

  /** Counts rows that both sides have under one identity with other cells: one edit is told once. */
  #countUnlike(): void {
    const due = new Map<string, OpenRow[]>();
    for (const entry of this.#open.values()) {
      const identity = entry.count > 0 ? this.#identityOf(entry.row) : undefined;
      if (identity === undefined) continue;
      const entries = due.get(identity);
      if (entries) entries.push(entry);
      else due.set(identity, [entry]);
    }
    if (due.size === 0) return;
    for (const found of this.#open.values()) {
      const entries = found.count < 0 ? due.get(this.#identityOf(found.row) ?? '') : undefined;
      for (let other = entries?.at(-1); other && found.count < 0; other = entries?.at(-1)) {
        const { row } = other;
        this.#total.unlike.add(this.#trackerOf(found.row), () => this.#unlikeExample(row, found.row));
        found.count += 1;
        other.count -= 1;
        if (other.count === 0) entries?.pop();
      }
    }
  }

  #trackerOf({ cells }: TextRow): string | undefined {
    return cells[this.#id];
  }

  /** undefined where the row lacks a cell of it. */
  #identityOf({ cells }: TextRow): string | undefined {
    const named = this.#identity.map((index) => cells[index]);
    return named.includes(undefined) ? undefined : JSON.stringify(named);
  }

  #unlikeExample(due: TextRow, found: TextRow): Example {
    const most = Math.max(due.cells.length, found.cells.length);
    const k = Array.from({ length: most }).findIndex((_, i) => due.cells[i] !== found.cells[i]);
    const atMs = this.#atMs(found);
    const column = this.#contract.columns[k]?.name;
    const tracker = this.#trackerOf(found);
    return {
      ...(tracker === undefined ? {} : { tracker }),
      ...(Number.isNaN(atMs) ? {} : { at: utcText(atMs) }),
      file: this.#window.file,
      record: found.record,
      line: found.line,
      ...(column === undefined ? {} : { column }),
      expected: due.cells[k] ?? 'no cell',
      found: found.cells[k] ?? 'no cell',
    };
  }

  #atMs(row: TextRow): number {
    return this.#times?.ofCell(row)[0] ?? Number.NaN;
  }

  /** A row that doesn't stand in the window stands in the whole export, and `file` is left out. */
  #example(row: TextRow, standsInWindow: boolean): Example {
    const { file, fromMs, toMs } = this.#window;
    const atMs = this.#atMs(row);
    return {
      ...(standsInWindow ? { file } : {}),
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
