// Rows as diagnosis sees them: with the record before, and where the same identity stood first.
import type { Contract } from '../contract/contract.ts';
import type { RowInstance } from '../diagnose/index.ts';
import type { Row } from './check.ts';
import type { ArrivalOf } from './missing-causes.ts';

/** A repeat stands near the first: so many rows are remembered per tracker. */
const REMEMBERED = 64;

/** What the evidence says of the messages that rows came in. */
export interface RowEvidence {
  readonly arrivalOf: ArrivalOf;
  /** The broker took the message more than once, or the tracker sent it twice. */
  readonly sentAgain: (trackerId: string, n: number) => boolean;
}

export const NO_ROW_EVIDENCE: RowEvidence = { arrivalOf: () => -1, sentAgain: () => false };

/** The first row of a reading: its identity, where it stands, and the message it came in. */
interface First {
  readonly boot: number;
  readonly seq: number;
  readonly atMs: number;
  readonly record: number;
  readonly n: number;
}

export class RowInstances {
  readonly #contract: Contract;
  readonly #fleetIds: readonly string[];
  readonly #evidence: RowEvidence;
  /** Per tracker: the rows that were the first of their reading, oldest first. */
  readonly #firsts = new Map<string, First[]>();
  #before: { readonly row: Row; readonly cells: readonly string[] } | undefined;
  #now: Row | undefined;

  constructor(contract: Contract, fleetIds: readonly string[], evidence: RowEvidence) {
    this.#contract = contract;
    this.#fleetIds = fleetIds;
    this.#evidence = evidence;
  }

  /** Takes note of a row; call it before any check sees the row. */
  note(row: Row): void {
    if (this.#now) this.#before = { row: this.#now, cells: this.#now.cells };
    this.#now = row;
    if (row.found?.kind !== 'first') return;
    const { boot, seq, atMs, record } = row;
    const first: First = { boot, seq, atMs, record, n: row.found.expected.emission.n };
    const firsts = this.#firsts.get(row.trackerId);
    if (!firsts) {
      this.#firsts.set(row.trackerId, [first]);
      return;
    }
    firsts.push(first);
    // Cut now and then, not at every row.
    if (firsts.length >= 2 * REMEMBERED) firsts.splice(0, firsts.length - REMEMBERED);
  }

  #firstOf({ trackerId, boot, seq, atMs }: Row): First | undefined {
    return this.#firsts
      .get(trackerId)
      ?.findLast((first) => first.boot === boot && first.seq === seq && (boot >= 0 || first.atMs === atMs));
  }

  /** The row noted last, for diagnosis. */
  of(row: Row): RowInstance {
    const first = row.found?.kind === 'again' ? this.#firstOf(row) : undefined;
    const before = this.#before;
    return {
      cells: row.cells,
      columns: this.#contract.columns,
      record: row.record,
      before: before?.cells,
      firstRecord: first?.record,
      atMs: row.atMs,
      fleetIds: this.#fleetIds,
      order: this.#contract.order,
      arrival: this.#arrival(row),
      arrivalBefore: before ? this.#arrival(before.row) : -1,
      sentAgain: first !== undefined && this.#evidence.sentAgain(row.trackerId, first.n),
    };
  }

  #arrival(row: Row): number {
    return row.found?.kind === 'first'
      ? this.#evidence.arrivalOf(row.trackerId, row.found.expected.emission.n)
      : -1;
  }
}
