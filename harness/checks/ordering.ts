// The order of rows, as the contract promises it.
import { FIELDS, utcText } from '../../sim/index.ts';
import type { Contract } from '../contract/contract.ts';
import { CausedCollector, ORDER_HYPOTHESES } from '../diagnose/index.ts';
import type { CheckResult } from '../verdict/verdict.ts';
import type { RowInstances } from './row-instances.ts';
import { exampleOfRow, notSeen, result, type Check, type CheckAbout, type Row } from './check.ts';
import { orderKeys, type Key, type OrderKeyReader } from './order-key.ts';

/** Rows follow the promised sort keys. */
export class RowsSorted implements Check {
  readonly about: CheckAbout = {
    id: 'ordering.rows',
    family: 'ordering',
    promise: 'rows stand in the promised order, ties included',
    proves:
      'each row follows the row before it under all the promised keys, as they are written or as they were measured',
    cannotProve: 'anything about rows that are equal in every key, or about keys that are absent',
  };
  // A pipeline sorts what it stores, which a cut second, a rounded number, a guarded text or the hour that a
  // clock change repeats can hide. A file has to be in order from end to end under one of the two readings.
  readonly #written: Sequence | undefined;
  readonly #measured: Sequence | undefined;

  constructor(contract: Contract, instances: RowInstances) {
    if (contract.order.length === 0) return;
    const readers = orderKeys(contract);
    this.#written = new Sequence(readers, (reader, row) => reader.written(row), instances);
    this.#measured = new Sequence(readers, (reader, row) => reader.measured(row), instances);
  }

  row(row: Row): void {
    this.#written?.row(row);
    this.#measured?.row(row);
  }

  end(): CheckResult {
    if (!this.#written || !this.#measured) {
      return notSeen(this.about, 'the contract promises no order of rows');
    }
    const better = this.#measured.wrong.count < this.#written.wrong.count ? this.#measured : this.#written;
    const words = better.pairs === 0 ? 'fewer than two rows to compare' : `${better.pairs} neighbouring rows`;
    return result(this.about, better.pairs, words, better.wrong.findings());
  }
}

/** Rows compared, one after another, by one reading of their keys. */
class Sequence {
  readonly wrong = new CausedCollector(
    'rows stand before one that should come first',
    'export',
    ORDER_HYPOTHESES,
  );
  readonly #instances: RowInstances;
  pairs = 0;
  readonly #readers: readonly OrderKeyReader[];
  readonly #keyOf: (reader: OrderKeyReader, row: Row) => Key | undefined;
  #last: RowKeys | undefined;

  constructor(
    readers: readonly OrderKeyReader[],
    keyOf: (reader: OrderKeyReader, row: Row) => Key | undefined,
    instances: RowInstances,
  ) {
    this.#instances = instances;
    this.#readers = readers;
    this.#keyOf = keyOf;
  }

  row(row: Row): void {
    const keys = new RowKeys(row, this.#readers, this.#keyOf);
    const last = this.#last;
    if (!last) {
      this.#last = keys;
      return;
    }
    let at = 0;
    while (at < this.#readers.length && isTied(last.key(at), keys.key(at))) at += 1;
    const [a, b, reader] = [last.key(at), keys.key(at), this.#readers[at]];
    // An absent or unreadable key says nothing: the next row is compared with the one before.
    if (reader && (a === undefined || b === undefined)) {
      if (a === undefined) this.#last = keys;
      return;
    }
    this.#last = keys;
    this.pairs += 1;
    if (!reader || a === undefined || b === undefined || compareKeys(a, b) * reader.sign < 0) {
      this.wrong.sound(() => this.#instances.of(row));
      return;
    }
    this.wrong.add(row.trackerId, () => ({
      instance: this.#instances.of(row),
      example: {
        ...exampleOfRow(row),
        column: reader.name,
        expected: `not before ${reader.show(a)}`,
        found: reader.show(b),
      },
    }));
  }
}

/** The sort keys of a row, each read when it is first asked for: the first mostly decides. */
class RowKeys {
  readonly #row: Row;
  readonly #readers: readonly OrderKeyReader[];
  readonly #keyOf: (reader: OrderKeyReader, row: Row) => Key | undefined;
  readonly #keys: (Key | undefined)[] = [];

  constructor(
    row: Row,
    readers: readonly OrderKeyReader[],
    keyOf: (reader: OrderKeyReader, row: Row) => Key | undefined,
  ) {
    this.#row = row;
    this.#readers = readers;
    this.#keyOf = keyOf;
  }

  /** Ask for them in order, from 0. */
  key(k: number): Key | undefined {
    const reader = this.#readers[k];
    if (k >= this.#keys.length && reader) this.#keys.push(this.#keyOf(reader, this.#row));
    return this.#keys[k];
  }
}

function isTied(a: Key | undefined, b: Key | undefined): boolean {
  return a !== undefined && b !== undefined && compareKeys(a, b) === 0;
}

/** One tracker's readings keep their order. */
export class TrackerOrder implements Check {
  readonly about: CheckAbout = {
    id: 'ordering.tracker',
    family: 'ordering',
    promise: "one tracker's readings keep the promised order, across reboots too",
    proves: 'per tracker, each reading found follows the one before it, by time measured or by emission',
    cannotProve: 'the order of readings with the same time, or of those that came in one message',
  };
  readonly #kind: Contract['perTracker'];
  readonly #sign: 1 | -1;
  readonly #instances: RowInstances;
  readonly #wrong = new CausedCollector(
    "one tracker's readings are out of order",
    'pipeline',
    ORDER_HYPOTHESES,
  );
  readonly #last = new Map<string, number>();
  #pairs = 0;

  constructor(contract: Contract, instances: RowInstances) {
    this.#instances = instances;
    this.#kind = contract.perTracker;
    const isTime = (name: string) =>
      contract.columns.some((column) => column.name === name && column.field === TIME_FIELD);
    const time = contract.order.find(({ column }) => isTime(column));
    // Newest first is an order by time measured too.
    this.#sign = this.#kind === 'measured' && time?.direction === 'falling' ? -1 : 1;
  }

  row(row: Row): void {
    if (this.#kind === 'none' || row.found?.kind !== 'first') return;
    const { reading, emission } = row.found.expected;
    const place = this.#kind === 'measured' ? reading.atMs : emission.n;
    const before = this.#last.get(row.trackerId);
    this.#last.set(row.trackerId, place);
    if (before === undefined) return;
    this.#pairs += 1;
    if ((place - before) * this.#sign >= 0) {
      this.#wrong.sound(() => this.#instances.of(row));
      return;
    }
    this.#wrong.add(row.trackerId, () => ({
      instance: this.#instances.of(row),
      example: {
        ...exampleOfRow(row),
        expected: `not before ${this.#show(before)}`,
        found: this.#show(place),
      },
    }));
  }

  #show(place: number): string {
    return this.#kind === 'measured' ? utcText(place) : `message ${place}`;
  }

  end(): CheckResult {
    if (this.#kind === 'none') return notSeen(this.about, 'the contract promises no order per tracker');
    const words = this.#pairs === 0 ? 'no tracker has two rows' : `${this.#pairs} neighbouring readings`;
    return result(this.about, this.#pairs, words, this.#wrong.findings());
  }
}

const TIME_FIELD = FIELDS.find((field) => field.kind === 'time')?.name;

function compareKeys(a: Key, b: Key): number {
  if (typeof a === 'number' && typeof b === 'number') return a - b;
  // By code point, as a database with the C collation sorts UTF-8.
  return a === b ? 0 : Buffer.compare(Buffer.from(String(a)), Buffer.from(String(b)));
}
