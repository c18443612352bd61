// The embedded SQL store: readings and rejects, each batch in one transaction.
import Database from 'libsql';
import { NotCompleted } from '../../sim/index.ts';
import type { StoreRules } from './damage.ts';
import { COLUMNS, type Row } from './row.ts';

export interface Reject {
  readonly reason: string;
  readonly topic: string;
  readonly payload: Uint8Array;
}

/** What became of a batch of readings. */
export interface BatchResult {
  readonly stored: number;
  /** Repeats equal to what is stored. */
  readonly collapsed: number;
  /** Places in the batch of readings whose identity is taken by a different reading. */
  readonly conflicts: readonly number[];
}

/** First bytes of a rejected payload that are kept. */
export const REJECT_BYTES = 4096;

/** Rows bound at once: a call into the store costs more than a row in it. */
const ROWS_PER_CALL = 50;

const NAMES = COLUMNS.map((column) => `"${column.name}"`).join(', ');

export const SOUND_STORE: StoreRules = { key: ['id', 'boot', 'seq'], onRepeat: 'keep', strict: true };

function schemaOf({ key, strict }: StoreRules): string {
  return `
CREATE TABLE IF NOT EXISTS readings (
  ${COLUMNS.map((c) => `"${c.name}" ${c.type}${strict && !c.nullable ? ' NOT NULL' : ''}`).join(',\n  ')},
  received_ms INTEGER NOT NULL${key === null ? '' : `,\n  UNIQUE (${key.join(', ')})`}
)${strict ? ' STRICT' : ''};
CREATE INDEX IF NOT EXISTS readings_by_time ON readings (at_ms, id, boot, seq);
CREATE TABLE IF NOT EXISTS rejects (
  n INTEGER PRIMARY KEY,
  received_ms INTEGER NOT NULL,
  topic TEXT NOT NULL,
  reason TEXT NOT NULL,
  payload_bytes INTEGER NOT NULL,
  payload BLOB NOT NULL
) STRICT;`;
}

function insertOf(rows: number, { key, onRepeat }: StoreRules): string {
  const values = `(${new Array<string>(COLUMNS.length + 1).fill('?').join(', ')})`;
  const all = new Array<string>(rows).fill(values).join(', ');
  if (onRepeat === 'replace') return `INSERT OR REPLACE INTO readings (${NAMES}, received_ms) VALUES ${all}`;
  const onConflict = key === null ? '' : ` ON CONFLICT (${key.join(', ')}) DO NOTHING`;
  return `INSERT INTO readings (${NAMES}, received_ms) VALUES ${all}${onConflict}`;
}

function openDatabase(file: string): Database.Database {
  try {
    const database = new Database(file);
    // Write-ahead log, so that an export reads a fixed state while new batches are committed.
    database.exec('PRAGMA journal_mode = WAL');
    database.exec('PRAGMA busy_timeout = 10000');
    return database;
  } catch (error) {
    throw new NotCompleted(`store ${file}: ${(error as Error).message}`);
  }
}

export class Store {
  readonly #database: Database.Database;
  readonly #insertOne: Database.Statement;
  readonly #insertMany: Database.Statement;
  readonly #sameKey: Database.Statement;
  readonly #insertReject: Database.Statement;

  /** Opens the store, or makes it. Throws NotCompleted. */
  constructor(file: string, rules: StoreRules = SOUND_STORE) {
    const database = openDatabase(file);
    this.#database = database;
    // FULL: the log is synced at each commit, because the ack that follows ends the broker's duty to keep the
    // message. NORMAL would survive a killed process, but not a power cut.
    database.exec('PRAGMA synchronous = FULL');
    database.exec(schemaOf(rules));
    this.#insertOne = database.prepare(insertOf(1, rules));
    this.#insertMany = database.prepare(insertOf(ROWS_PER_CALL, rules));
    this.#sameKey = database
      .prepare(`SELECT ${NAMES} FROM readings WHERE id = ? AND boot = ? AND seq = ?`)
      .raw(true);
    this.#insertReject = database.prepare(
      'INSERT INTO rejects (received_ms, topic, reason, payload_bytes, payload) VALUES (?, ?, ?, ?, ?)',
    );
  }

  /** Runs `work` in one transaction, durable when it returns. */
  commit<T>(work: () => T): T {
    this.#database.exec('BEGIN IMMEDIATE');
    try {
      const result = work();
      this.#database.exec('COMMIT');
      return result;
    } catch (error) {
      if (this.#database.inTransaction) this.#database.exec('ROLLBACK');
      throw error;
    }
  }

  /** Stores rows; identity is (id, boot, seq), and the first to come stays. Call inside commit. */
  addReadings(rows: readonly Row[], receivedMs: number): BatchResult {
    let stored = 0;
    let repeats = 0;
    const conflicts: number[] = [];
    for (let at = 0; at < rows.length;) {
      const many = rows.length - at >= ROWS_PER_CALL;
      const chunk = rows.slice(at, at + (many ? ROWS_PER_CALL : 1));
      const values: Row = [];
      for (const row of chunk) values.push(...row, receivedMs);
      const { changes } = (many ? this.#insertMany : this.#insertOne).run(values);
      stored += changes;
      if (changes < chunk.length) {
        // Whichever rows weren't taken: those that differ from what is stored are conflicts.
        repeats += chunk.length - changes;
        for (const [i, row] of chunk.entries()) if (!this.#isStored(row)) conflicts.push(at + i);
      }
      at += chunk.length;
    }
    return { stored, collapsed: repeats - conflicts.length, conflicts };
  }

  #isStored(row: Row): boolean {
    const [id, boot, seq] = KEY_PLACES.map((place) => row[place]);
    const found = this.#sameKey.get([id, boot, seq]) as Row | undefined;
    return found !== undefined && row.every((value, i) => value === found[i]);
  }

  /** Keeps what was refused. Call inside commit. */
  addRejects(rejects: readonly Reject[], receivedMs: number): void {
    for (const { topic, reason, payload } of rejects) {
      const head = Buffer.from(payload.subarray(0, REJECT_BYTES));
      this.#insertReject.run([receivedMs, topic, reason, payload.length, head]);
    }
  }

  /** Rows in each table. */
  sizes(): { readings: number; rejects: number } {
    const [readings, rejects] = this.#database
      .prepare('SELECT (SELECT count(*) FROM readings), (SELECT count(*) FROM rejects)')
      .raw(true)
      .get() as [number, number];
    return { readings, rejects };
  }

  close(): void {
    this.#database.close();
  }
}

const KEY_PLACES = ['id', 'boot', 'seq'].map((name) => COLUMNS.findIndex((c) => c.name === name));

/**
 * The rows of a query in one fixed state of the store, over a connection of its own: new batches are
 * committed meanwhile, and aren't seen.
 */
export function* readStore(
  file: string,
  sql: string,
  parameters: readonly (string | number)[],
): Generator<readonly unknown[]> {
  const database = openDatabase(file);
  try {
    yield* database
      .prepare(sql)
      .raw(true)
      .iterate([...parameters]) as IterableIterator<unknown[]>;
  } finally {
    database.close();
  }
}
