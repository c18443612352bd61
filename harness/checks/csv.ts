// The form of the file: RFC 4180 on bytes, and the header as promised.
import type { CsvFlaw, CsvFlawKind } from '../csv/flaws.ts';
import type { Contract } from '../contract/contract.ts';
import { causeOfFlaw, causeOfHeader } from '../diagnose/index.ts';
import { Collector } from '../verdict/collector.ts';
import type { CheckResult } from '../verdict/verdict.ts';
import { notSeen, result, type Check, type CheckAbout } from './check.ts';

/** Well-formed CSV. */
export class WellFormed implements Check {
  readonly about: CheckAbout = {
    id: 'csv.form',
    family: 'csv',
    promise: 'the file is RFC 4180 CSV in UTF-8, with the promised line ends and byte order mark',
    proves: 'every byte of every export was read under the strict rules',
    cannotProve: 'what a lenient reader would make of a flaw',
  };
  readonly #flaws = new Map<CsvFlawKind, Collector>();
  readonly #header: boolean;
  #records = 0;

  constructor(contract: Contract) {
    this.#header = contract.csv.header;
  }

  row(): void {
    this.#records += 1;
  }

  flaw(flaw: CsvFlaw, file: string): void {
    // Without a header, no bytes at all are the right export of an empty period.
    if (flaw.kind === 'empty-file' && !this.#header) return;
    let collector = this.#flaws.get(flaw.kind);
    if (!collector) {
      collector = new Collector(flaw.words, 'export');
      this.#flaws.set(flaw.kind, collector);
    }
    collector.add(undefined, () => ({ file, record: flaw.record, line: flaw.line, found: flaw.words }));
  }

  end(): CheckResult {
    // A header alone is a legal export of an empty period (RFC 4180 section 2).
    const kinds = new Map([...this.#flaws].map(([kind, collector]) => [kind, collector.count]));
    const records = this.#records;
    const findings = [...this.#flaws].flatMap(([kind, collector]) =>
      collector.findings(causeOfFlaw(kind, { kinds, records })),
    );
    const looked = this.#records + (this.#header ? 1 : 0);
    return result(this.about, looked, `${this.#records} data records`, findings);
  }
}

/** Column names and their order. Told by the judge, which reads the header. */
export class Header implements Check {
  readonly about: CheckAbout = {
    id: 'csv.header',
    family: 'csv',
    promise: 'the header names the promised columns in the promised order',
    proves: 'the header record equals the contract, name by name',
    cannotProve: 'that a column holds what its name says; the values checks do that',
  };
  readonly #contract: Contract;
  readonly #wrong = new Collector('header differs from the contract', 'export');
  #firstWrong: readonly string[] | undefined;
  #seen = 0;

  constructor(contract: Contract) {
    this.#contract = contract;
  }

  header(cells: readonly string[], file: string): void {
    this.#seen += 1;
    const names = this.#contract.columns.map((column) => column.name);
    const length = Math.max(names.length, cells.length);
    for (let k = 0; k < length; k++) {
      if (names[k] === cells[k]) continue;
      this.#firstWrong ??= cells;
      this.#wrong.add(undefined, () => ({
        file,
        record: 1,
        line: 1,
        column: `column ${k + 1}`,
        expected: names[k] ?? 'no further column',
        found: cells[k] ?? 'no further column',
      }));
    }
  }

  end(): CheckResult {
    if (!this.#contract.csv.header) return notSeen(this.about, 'the contract promises no header');
    if (this.#seen === 0) {
      this.#wrong.add(undefined, () => ({ expected: 'a header', found: 'an empty file' }));
    }
    const names = this.#contract.columns.map((column) => column.name);
    const cause = this.#firstWrong ? causeOfHeader(names, this.#firstWrong) : null;
    return result(this.about, this.#seen, `${names.length} columns`, this.#wrong.findings(cause));
  }
}
