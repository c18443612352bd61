// The seam for deliberate defects: what a damaged pipeline does otherwise than the sound one, stage by stage.
// A hook that is left out leaves its stage as it is; the sound pipeline has none of them.
import type { WireReading } from '../../sim/index.ts';
import type { Column, Contract } from '../contract/contract.ts';
import type { CellWriter } from './cell.ts';
import type { BatchSize, ExportQuery, Subscription } from './pipeline.ts';
import type { Row } from './row.ts';
import type { Arrival } from './subscriber.ts';

/** Makes the damage of one life of the pipeline. What it keeps in memory is gone after a restart. */
export type MakeDamage = () => Damage;

/** An SQL query of the readings, in parts. */
export interface Select {
  /** SQL names of what is selected, in the order of the export's columns. */
  readonly columns: readonly string[];
  readonly where: string;
  readonly parameters: readonly (string | number)[];
  readonly orderBy: string;
  /** Anything after it, such as `LIMIT 1000`; empty = nothing. */
  readonly tail: string;
}

export type ReadRows = (select: Select) => Iterable<readonly unknown[]>;

export interface Damage {
  /** What is subscribed to, and how it is decoded. */
  readonly subscriptions?: (sound: readonly Subscription[]) => readonly Subscription[];
  readonly session?: SessionRules;
  /** When a batch is committed. */
  readonly batch?: BatchSize;
  /** A message as it comes. Undefined = let go, and not acknowledged unless the hook does so. */
  readonly message?: (message: Arrival) => Arrival | undefined;
  /** The readings of one message. Throws where it refuses the message. */
  readonly readings?: (readings: readonly WireReading[], message: Arrival) => readonly WireReading[];
  /** A row before it is stored; undefined = not stored. */
  readonly row?: (row: Row, message: Arrival) => Row | undefined;
  /** What of the batch in hand reaches the store when the process dies; `messages`: the one each row came in. */
  readonly dying?: (rows: readonly Row[], messages: readonly Arrival[]) => readonly Row[];
  readonly store?: StoreRules;
  /** How the rows of an export are read. */
  readonly select?: (select: Select, read: ReadRows, query: ExportQuery) => Iterable<readonly unknown[]>;
  /** Columns of an export. */
  readonly columns?: (sound: readonly Column[]) => readonly Column[];
  /** From a stored value to a finished cell, quotes included. */
  readonly cell?: (sound: CellWriter, column: Column, csv: Contract['csv']) => CellWriter;
  /** Lines of an export with their line ends: byte order mark and header first, then the records. */
  readonly lines?: (sound: Iterable<string>, query: ExportQuery) => Iterable<string>;
  /** Encoding of the file. */
  readonly encoding?: BufferEncoding;
}

/** The MQTT session of a pipeline over its lives. */
export interface SessionRules {
  /** The broker keeps nothing while we are away. */
  readonly clean: boolean;
  /** Subscribes in its first life only, in each where the broker kept no session, or in each. */
  readonly subscribes: 'once' | 'where-lost' | 'always';
}

/** The store's key (null = none), which of two rows with one key stays, and what its columns take. */
export interface StoreRules {
  readonly key: readonly string[] | null;
  readonly onRepeat: 'keep' | 'replace';
  /** Whether a column takes values of its own type only, and absent ones only where a reading may lack them. */
  readonly strict: boolean;
}

export const SOUND: Damage = {};
