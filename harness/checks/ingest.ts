// Nothing lost, nothing invented, nothing doubled, batches unpacked whole.
import type { Emission, Reading } from '../../sim/index.ts';
import type { Contract } from '../contract/contract.ts';
import {
  CausedCollector,
  INVENTED_HYPOTHESES,
  REPEAT_HYPOTHESES,
  type RowInstance,
} from '../diagnose/index.ts';
import type { ExpectedReading } from '../expected/expected.ts';
import { Collector } from '../verdict/collector.ts';
import type { CheckResult, Finding } from '../verdict/verdict.ts';
import {
  exampleOfReading,
  exampleOfRow,
  notSeen,
  result,
  type Check,
  type CheckAbout,
  type Row,
} from './check.ts';
import type { RowInstances } from './row-instances.ts';

export const MISSING = 'readings that the broker took are not in the export';

function missingKey(trackerId: string, { boot, seq, atMs }: Reading): string {
  return `${trackerId} ${boot} ${seq} ${atMs}`;
}

/** Every reading that the broker took is in the export. */
export class Complete implements Check {
  readonly about: CheckAbout = {
    id: 'ingest.complete',
    family: 'ingest',
    promise: 'every reading that the broker took is in the export',
    proves: 'each reading of a message that the broker accepted has a row',
    cannotProve:
      'anything about messages that nobody saw accepted: those may or may not come out, and are counted apart',
  };
  readonly #missing = new Collector(MISSING, 'pipeline');
  readonly #keys = new Set<string>();
  #explained: readonly Finding[] | undefined;
  #must = 0;
  #may = 0;
  #mayMissing = 0;

  row(row: Row): void {
    if (row.found?.kind !== 'first') return;
    if (row.found.expected.due === 'must') this.#must += 1;
    else this.#may += 1;
  }

  missing(expected: ExpectedReading, trackerId: string): void {
    if (expected.due === 'may') {
      this.#mayMissing += 1;
      return;
    }
    this.#must += 1;
    this.#missing.add(trackerId, () => exampleOfReading(expected));
    this.#keys.add(missingKey(trackerId, expected.reading));
  }

  get someMissing(): boolean {
    return this.#missing.count > 0;
  }

  /** Known after the last call of `missing`. */
  isMissing(trackerId: string, reading: Reading): boolean {
    return this.#keys.has(missingKey(trackerId, reading));
  }

  /** Takes findings that say why, in place of the bare one. */
  explain(findings: readonly Finding[]): void {
    if (findings.length > 0) this.#explained = findings;
  }

  end(): CheckResult {
    const open = this.#may + this.#mayMissing;
    const apart =
      open === 0
        ? ''
        : `; ${open} more left the tracker and were not seen accepted (${this.#may} of them came out)`;
    return result(
      this.about,
      this.#must,
      this.#must === 0
        ? `no reading was seen accepted by the broker${apart}`
        : `${this.#must} readings due${apart}`,
      this.#explained ?? this.#missing.findings(),
    );
  }
}

function invented(what: string): CausedCollector<RowInstance> {
  return new CausedCollector(what, 'pipeline', INVENTED_HYPOTHESES);
}

/** No row that no tracker sent. */
export class NothingInvented implements Check {
  readonly about: CheckAbout = {
    id: 'ingest.nothing-invented',
    family: 'ingest',
    promise: 'every row is a reading that a tracker sent',
    proves: 'each row has the identity of a reading that left its tracker',
    cannotProve: 'where an invented row came from',
  };
  readonly #instances: RowInstances;
  readonly #unreadable = invented('rows whose identity cannot be read');
  readonly #stranger = invented('rows of trackers that are not in the fleet');
  readonly #neverMade = invented('rows of readings that no tracker made');
  readonly #neverSent = invented('rows of readings that never left their tracker');
  #rows = 0;

  constructor(instances: RowInstances) {
    this.#instances = instances;
  }

  row(row: Row): void {
    this.#rows += 1;
    const wrong = this.#collectorFor(row);
    wrong?.add(row.trackerId, () => ({ instance: this.#instances.of(row), example: exampleOfRow(row) }));
  }

  #collectorFor({ found, tracker, trackerId }: Row): CausedCollector<RowInstance> | undefined {
    if (found?.kind === 'never') return found.made ? this.#neverSent : this.#neverMade;
    if (found !== undefined) return undefined;
    return tracker !== undefined || trackerId === '' ? this.#unreadable : this.#stranger;
  }

  end(): CheckResult {
    return result(this.about, this.#rows, `${this.#rows} rows`, [
      ...this.#unreadable.findings(),
      ...this.#stranger.findings(),
      ...this.#neverMade.findings(),
      ...this.#neverSent.findings(),
    ]);
  }
}

/** Deliveries of one reading collapse to one row. */
export class NoRepeats implements Check {
  readonly about: CheckAbout = {
    id: 'ingest.no-repeats',
    family: 'ingest',
    promise: 'a reading that arrives more than once is one row',
    proves: 'no two rows have one identity',
    cannotProve:
      'which of two deliveries became the row; repeats of a reading whose identity another reading shares',
  };
  readonly #contract: Contract;
  readonly #instances: RowInstances;
  readonly #repeats = new CausedCollector(
    'rows repeat a reading that has a row already',
    'pipeline',
    REPEAT_HYPOTHESES,
  );
  #rows = 0;

  constructor(contract: Contract, instances: RowInstances) {
    this.#contract = contract;
    this.#instances = instances;
  }

  row(row: Row): void {
    this.#rows += 1;
    if (row.found?.kind === 'again' && !row.found.twin) {
      this.#repeats.add(row.trackerId, () => ({
        instance: this.#instances.of(row),
        example: exampleOfRow(row),
      }));
    } else if (row.found?.kind === 'first') this.#repeats.sound(() => this.#instances.of(row));
  }

  end(): CheckResult {
    if (this.#contract.repeats === 'keep') {
      return notSeen(this.about, 'the contract lets repeats stand');
    }
    return result(this.about, this.#rows, `${this.#rows} rows`, this.#repeats.findings());
  }
}

/** A buffered batch comes out whole or not at all. */
export class BatchesWhole implements Check {
  readonly about: CheckAbout = {
    id: 'ingest.batches-whole',
    family: 'ingest',
    promise: 'a batch sent after an outage is unpacked whole',
    proves: 'no batch has some of its readings in the export and some missing',
    cannotProve: 'anything where no tracker sent a batch',
  };
  readonly #latenessMs: number;
  readonly #torn = new Collector('readings are missing from batches of which others came out', 'consumer');
  /** Readings found so far of batches that aren't complete yet. */
  readonly #found = new Map<Emission, number>();
  readonly #lost: { readonly expected: ExpectedReading; readonly trackerId: string }[] = [];
  #whole = 0;

  constructor(contract: Contract) {
    this.#latenessMs = contract.latenessMs;
  }

  row(row: Row): void {
    if (row.found?.kind !== 'first') return;
    const { emission } = row.found.expected;
    if (emission.readings.length < 2) return;
    const found = (this.#found.get(emission) ?? 0) + 1;
    if (found < emission.readings.length) {
      this.#found.set(emission, found);
      return;
    }
    this.#found.delete(emission);
    this.#whole += 1;
  }

  missing(expected: ExpectedReading, trackerId: string): void {
    const { emission, reading } = expected;
    if (emission.readings.length < 2 || !this.#found.has(emission)) return;
    // One row of it proves that the message arrived, whoever saw it; only lateness excuses the others.
    if (emission.atMs - reading.atMs > this.#latenessMs) return;
    this.#lost.push({ expected, trackerId });
  }

  end(): CheckResult {
    for (const { expected, trackerId } of this.#lost) {
      this.#torn.add(trackerId, () => exampleOfReading(expected));
    }
    const looked = this.#whole + this.#found.size;
    return result(
      this.about,
      looked,
      looked === 0 ? 'no row came out of a batch' : `${looked} batches`,
      this.#torn.findings(),
    );
  }
}
