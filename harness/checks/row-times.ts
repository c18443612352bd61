// When the rows of an export were measured, as far as it matters for the edges of its windows.
import type { ColumnForm, Contract } from '../contract/contract.ts';
import { timesOf, timeUnitMs } from './cell.ts';
import { expectedOf, type Row } from './check.ts';
import { Zone } from './zone.ts';

/** A record with its cells. */
interface Cells {
  readonly record: number;
  readonly cells: readonly string[];
}

/**
 * A cell alone can leave open on which side of an edge its row lies: where seconds are cut, and in the hour
 * that a clock change repeats. For such rows of the whole export the time measured is kept; they are few.
 */
export class RowTimes {
  readonly #index: number;
  readonly #form: Extract<ColumnForm, { kind: 'time' }>;
  readonly #zone: Zone;
  readonly #edges: readonly number[];
  /** Each cell is one instant, to the millisecond. */
  readonly #isExact: boolean;
  readonly #measured = new Map<number, readonly number[]>();

  private constructor(index: number, form: Extract<ColumnForm, { kind: 'time' }>, edges: readonly number[]) {
    this.#index = index;
    this.#form = form;
    this.#zone = new Zone(form.zone);
    this.#edges = edges;
    this.#isExact = form.as !== 'local' && timeUnitMs(form) === 1;
  }

  /** undefined where the contract's window column isn't exported as a time. */
  static of(
    contract: Contract,
    windows: readonly { readonly fromMs: number; readonly toMs: number }[],
  ): RowTimes | undefined {
    const index = contract.columns.findIndex((column) => column.name === contract.window.column);
    const form = contract.columns[index]?.form;
    if (form?.kind !== 'time') return undefined;
    const edges = new Set(windows.flatMap(({ fromMs, toMs }) => [fromMs, toMs]));
    return new RowTimes(
      index,
      form,
      [...edges].toSorted((a, b) => a - b),
    );
  }

  /** A row of the whole export. */
  note(row: Row): void {
    if (this.#isExact) return;
    const expected = expectedOf(row);
    if (expected && this.#isOpen(this.ofCell(row))) this.#measured.set(row.record, [expected.reading.atMs]);
  }

  /** The instants at which a row may have been measured, by its cell alone. */
  ofCell({ cells }: Cells): readonly number[] {
    return timesOf(cells[this.#index] ?? '', this.#form, this.#zone);
  }

  /** The same for a row of the whole export, after all of them were noted. */
  ofWhole(row: Cells): readonly number[] {
    return this.#measured.get(row.record) ?? this.ofCell(row);
  }

  #isOpen(times: readonly number[]): boolean {
    const first = times[0];
    const last = times.at(-1);
    if (first === undefined || last === undefined) return false;
    return this.#edgesUpTo(first) !== this.#edgesUpTo(last + timeUnitMs(this.#form) - 1);
  }

  #edgesUpTo(atMs: number): number {
    let low = 0;
    let high = this.#edges.length;
    while (low < high) {
      const middle = (low + high) >>> 1;
      if ((this.#edges[middle] ?? Number.POSITIVE_INFINITY) <= atMs) low = middle + 1;
      else high = middle;
    }
    return low;
  }
}
