// The seam of all checks over the rows of one export. The judge feeds them; none calls back.
import type { ExpectedReading, ExpectedTracker, Found } from '../expected/expected.ts';
import type { CsvFlaw } from '../csv/flaws.ts';
import type { CheckResult, Example, Family, Finding } from '../verdict/verdict.ts';
import { utcText } from '../../sim/index.ts';

/** What a check promises and where its sight ends. The documentation is made from this. */
export interface CheckAbout {
  readonly id: string;
  readonly family: Family;
  readonly promise: string;
  readonly proves: string;
  readonly cannotProve: string;
}

/** One data record of the export, matched with what was measured. */
export interface Row {
  readonly file: string;
  /** Record of the file, from 1, the header included. */
  readonly record: number;
  readonly line: number;
  readonly cells: readonly string[];
  readonly trackerId: string;
  /** NaN where the cell can't be read. */
  readonly boot: number;
  readonly seq: number;
  readonly atMs: number;
  /** undefined where the fleet has no such tracker. */
  readonly tracker: ExpectedTracker | undefined;
  /** undefined where the identity can't be read, or the tracker is unknown. */
  readonly found: Found | undefined;
}

export interface Check {
  readonly about: CheckAbout;
  /** A data record. */
  row?(row: Row): void;
  /** After the last row: something that was sent and has no row. */
  missing?(expected: ExpectedReading, trackerId: string): void;
  /** A flaw in the file's form. */
  flaw?(flaw: CsvFlaw, file: string): void;
  /** The verdict; called once. */
  end(): CheckResult;
}

/** The result of a check, by the rule that nothing looked at is nothing seen. */
export function result(
  about: CheckAbout,
  looked: number,
  words: string,
  findings: readonly Finding[],
): CheckResult {
  const broken = findings.length > 0;
  return {
    id: about.id,
    family: about.family,
    promise: about.promise,
    outcome: broken ? 'broken' : looked > 0 ? 'held' : 'not-seen',
    looked,
    words,
    findings,
  };
}

/** A check that had nothing to look at, and why. */
export function notSeen(about: CheckAbout, why: string): CheckResult {
  return result(about, 0, why, []);
}

/** What was measured for the row, where it is a reading's, the first row or a further one. */
export function expectedOf({ found }: Row): ExpectedReading | undefined {
  return found?.kind === 'first' || found?.kind === 'again' ? found.expected : undefined;
}

export function exampleOfRow(row: Row): Example {
  return {
    ...(row.trackerId === '' ? {} : { tracker: row.trackerId }),
    ...(Number.isNaN(row.boot) ? {} : { boot: row.boot }),
    ...(Number.isNaN(row.seq) ? {} : { seq: row.seq }),
    ...(Number.isNaN(row.atMs) ? {} : { at: utcText(row.atMs) }),
    file: row.file,
    record: row.record,
    line: row.line,
  };
}

export function exampleOfReading({ reading }: ExpectedReading): Example {
  return { tracker: reading.id, boot: reading.boot, seq: reading.seq, at: utcText(reading.atMs) };
}
