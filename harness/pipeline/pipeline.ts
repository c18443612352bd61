// The seam between the harness and a pipeline under test: take readings in, give CSV out.
import type { WireReading } from '../../sim/index.ts';
import type { Column, Contract, OrderKey } from '../contract/contract.ts';

/** Readings of one payload. Throws, with the reason as message, where the payload isn't valid. */
export type Decode = (payload: Uint8Array) => readonly WireReading[];

export interface BrokerAddress {
  readonly host: string;
  readonly port: number;
  /** Null where the broker asks for none. */
  readonly username: string | null;
  readonly password: string | null;
  /** The session's name: the same one after a restart, or what the broker kept is lost. */
  readonly clientId: string;
}

/** When a batch is committed: once it has `rows` readings, or `ms` after its first message came. */
export interface BatchSize {
  readonly rows: number;
  /** 0 = as soon as the messages that came together are read. */
  readonly ms: number;
}

/** Large under load, prompt without. A broker that waits for acks after 20 messages isn't held up. */
export const PROMPT_BATCH: BatchSize = { rows: 500, ms: 0 };

export interface Subscription {
  /** MQTT topic filter. The first that a topic matches decides. */
  readonly filter: string;
  /** Null: messages that match are status, not readings; they are counted and let go. */
  readonly decode: Decode | null;
}

export interface PipelineOptions {
  /** File of the embedded SQL store; made where it doesn't exist. */
  readonly storeFile: string;
  readonly broker: BrokerAddress;
  readonly subscriptions: readonly Subscription[];
  readonly batch: BatchSize;
}

/** Since the start of this pipeline, but for `rowsInStore` and `rejectsInStore`. */
export interface PipelineCounts {
  /** Messages that came from the broker, of every sort. */
  readonly messages: number;
  /** Stored copies (retain flag) and status messages, which aren't readings. */
  readonly retainedIgnored: number;
  readonly statusIgnored: number;
  /** Readings committed, repeats that collapsed into a stored one, and what was refused. */
  readonly stored: number;
  readonly collapsed: number;
  readonly rejected: number;
  /** Messages that came and aren't committed yet. */
  readonly pending: number;
  readonly commits: number;
  readonly reconnects: number;
  readonly rowsInStore: number;
  readonly rejectsInStore: number;
}

export interface ExportQuery {
  /** Rows measured in [fromMs, toMs), Unix ms. */
  readonly fromMs: number;
  readonly toMs: number;
  /** Written beside it under another name first, so that nothing half written ever has this name. */
  readonly file: string;
  readonly columns: readonly Column[];
  /** Empty: by time measured, then tracker, boot, sequence. */
  readonly order: readonly OrderKey[];
  readonly csv: Contract['csv'];
}

/** All calls reject with NotCompleted where the work can't be done, BadInput where the query is wrong. */
export interface Pipeline {
  counts(): Promise<PipelineCounts>;
  /** Commits and acknowledges whatever has come. */
  flush(): Promise<void>;
  /**
   * Ends the connection as a crash does, without a word to the broker. What isn't committed is lost, and what was
   * kept in memory is forgotten; the store and the broker's session stay.
   */
  crash(): Promise<void>;
  /** Starts again after a crash, on the same store and session. */
  resume(): Promise<void>;
  exportCsv(query: ExportQuery): Promise<{ readonly rows: number }>;
  /** CSV (RFC 4180): receivedAt, topic, reason, payloadBytes, payloadText, payloadBase64. */
  exportRejects(file: string): Promise<{ readonly rows: number }>;
  /** Flushes, disconnects (the broker keeps the session) and closes the store. */
  close(): Promise<void>;
}
