// What the checks hand over for diagnosis: one broken (or sound) instance of each kind.
import type { Emission, PayloadKind, Reading } from '../../sim/index.ts';
import type { Column, OrderKey } from '../contract/contract.ts';
import type { ExpectedReading } from '../expected/expected.ts';

/** One cell set against what was measured. Sound cells come too, for contrast. */
export interface CellInstance {
  readonly column: Column;
  readonly cell: string;
  /** As the contract would write it. */
  readonly expected: string;
  readonly reading: Reading;
  /** The same tracker's reading in the row before; undefined for its first row. */
  readonly before: Reading | undefined;
  /** All cells of the row, and the columns they belong to. */
  readonly cells: readonly string[];
  readonly columns: readonly Column[];
  /** The message that carried the reading. */
  readonly emission?: Emission;
  /** The reading in the record before, of whatever tracker. */
  readonly rowBefore?: Reading;
}

/** A reading that has no row; found readings come as sound ones. */
export interface ReadingInstance {
  readonly expected: ExpectedReading;
  /** The same tracker's reading made just before this one; undefined for its first. */
  readonly before: Reading | undefined;
  /** Highest sequence number of the tracker before this reading, over all boots. */
  readonly highestSeq: number;
  /** Time measured last before this reading, by any reading of the tracker that was sent earlier. */
  readonly latestSentMs: number;
  /** The same, with the readings that stand before it in its own message. */
  readonly newestBeforeMs?: number;
  /** Order in which the broker took the message, over the whole fleet, from 0; -1 without a tap. */
  readonly arrival: number;
  /** Rank in the contract's order among all due readings, found and missing, from 0. */
  readonly exportRank?: number;
  /** Another reading that the tracker sent has the same time measured. */
  readonly sameTimeAsOther?: boolean;
  /** A reading of an earlier boot that was sent has the same sequence number. */
  readonly seqOfEarlierBoot?: boolean;
  readonly payloadKind?: PayloadKind;
  /** Length of the message that carried it. */
  readonly payloadBytes?: number;
  /** Time measured since the tracker's reading before that has a row; Infinity where there is none. */
  readonly sinceFoundMs?: number;
  /** Messages of the whole fleet that were sent within a second of its own, that one included. */
  readonly sentTogether?: number;
  /** Readings that its tracker sent within the second before, those of its own message included. */
  readonly ownBurst?: number;
}

/** A row that shouldn't be there, or stands in the wrong place. */
export interface RowInstance {
  readonly cells: readonly string[];
  readonly columns: readonly Column[];
  /** Record of the file, from 1, the header included. */
  readonly record: number;
  /** Cells of the record before. */
  readonly before: readonly string[] | undefined;
  /** Record in which the same identity stood first; undefined where it is the only one. */
  readonly firstRecord: number | undefined;
  /** Time in the window column, ms; NaN where it can't be read. */
  readonly atMs: number;
  /** Ids of the fleet. */
  readonly fleetIds?: readonly string[];
  /** How the contract sorts rows. */
  readonly order?: readonly OrderKey[];
  /** As in ReadingInstance: of this row's reading, and of the record's before. */
  readonly arrival?: number;
  readonly arrivalBefore?: number;
  /** The broker took the row's reading more than once. */
  readonly sentAgain?: boolean;
}

/** A row that a window should or shouldn't hold. */
export interface WindowInstance {
  readonly atMs: number;
  readonly fromMs: number;
  readonly toMs: number;
  /** `missing`: belongs to the window and isn't there. `outside`: is there and doesn't belong. */
  readonly kind: 'missing' | 'outside' | 'surplus';
  /** Rows of the window before this one. */
  readonly rowsBefore: number;
  /** Virtual time at which the row's reading was sent. */
  readonly sentAtMs?: number;
}
