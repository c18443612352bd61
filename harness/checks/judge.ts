// The front door of the checks: one export, its windows and what the evidence says, in; check results out.
import type { Scenario } from '../../sim/index.ts';
import type { Contract } from '../contract/contract.ts';
import { readCsv, type CsvFlaw } from '../csv/reader.ts';
import { expectedFleet, type DueOf } from '../expected/expected.ts';
import type { CheckResult } from '../verdict/verdict.ts';
import type { Check } from './check.ts';
import { Header, WellFormed } from './csv.ts';
import { BatchesWhole, Complete, MISSING, NoRepeats, NothingInvented } from './ingest.ts';
import { missingFindings } from './missing-causes.ts';
import { RowsSorted, TrackerOrder } from './ordering.ts';
import { NO_ROW_EVIDENCE, RowInstances, type RowEvidence } from './row-instances.ts';
import { namingOf, RowReader } from './row-reader.ts';
import { RowTimes } from './row-times.ts';
import { RowsValid } from './schema.ts';
import { Values } from './values.ts';
import { checkWindows, type TextRow, type WindowExport } from './window.ts';

/** An export of [fromMs, toMs), in a file of its own. */
export interface ExportFile {
  readonly file: string;
  readonly fromMs: number;
  readonly toMs: number;
}

export interface JudgeInput {
  readonly scenario: Scenario;
  readonly contract: Contract;
  readonly dueOf: DueOf;
  /** The export of everything. */
  readonly whole: ExportFile;
  /** A second export of everything, where there is one. */
  readonly again: ExportFile | undefined;
  readonly windows: readonly ExportFile[];
  /** What the evidence says of the messages; used for saying why. */
  readonly evidence?: RowEvidence;
  readonly onRows?: (rows: number) => void;
}

export interface ExportJudged {
  readonly checks: readonly CheckResult[];
  readonly rows: number;
}

/** Judges an export. Reads each file as a stream; throws BadInput where a file can't be opened. */
export async function judgeExport(input: JudgeInput): Promise<ExportJudged> {
  const { contract } = input;
  const fleet = expectedFleet(input.scenario, input.dueOf, namingOf(contract));
  const header = new Header(contract);
  const values = new Values(contract);
  const reader = new RowReader(contract, fleet, (cells, reading) => values.misfit(cells, reading));
  const times = RowTimes.of(contract, input.windows);
  const form = new WellFormed(contract);
  const evidence = input.evidence ?? NO_ROW_EVIDENCE;
  const instances = new RowInstances(contract, [...fleet.keys()], evidence);
  const complete = new Complete();
  const checks: readonly Check[] = [
    complete,
    new NothingInvented(instances),
    new NoRepeats(contract, instances),
    new BatchesWhole(contract),
    new RowsSorted(contract, instances),
    new TrackerOrder(contract, instances),
    new RowsValid(contract),
    form,
  ];

  const { file } = input.whole;
  let rows = 0;
  for await (const batch of readCsv(file, contract.csv)) {
    for (const record of batch.records) {
      if (contract.csv.header && record.record === 1) {
        header.header(record.cells, file);
        continue;
      }
      rows += 1;
      const row = reader.row(record, file);
      instances.note(row);
      for (const check of checks) check.row?.(row);
      values.row(row);
      times?.note(row);
    }
    for (const flaw of batch.flaws) for (const check of checks) check.flaw?.(flaw, file);
    input.onRows?.(rows);
  }
  for (const [trackerId, tracker] of fleet) {
    for (const expected of tracker.rest()) {
      for (const check of checks) check.missing?.(expected, trackerId);
    }
  }
  if (complete.someMissing) {
    complete.explain(
      missingFindings({
        scenario: input.scenario,
        contract,
        dueOf: input.dueOf,
        isMissing: (id, reading) => complete.isMissing(id, reading),
        arrivalOf: evidence.arrivalOf,
        what: MISSING,
      }),
    );
  }

  // The form of every file counts, so that these are read before the checks of form are ended.
  const asWindow = (window: ExportFile): WindowExport => ({
    ...window,
    rows: () =>
      dataRows(
        window.file,
        contract,
        (cells) => header.header(cells, window.file),
        (flaw) => form.flaw(flaw, window.file),
      ),
  });
  const windows = await checkWindows(
    contract,
    times,
    dataRows(file, contract),
    input.windows.map(asWindow),
    input.again && asWindow(input.again),
  );
  return {
    rows,
    checks: [...checks.map((check) => check.end()), ...values.end(), header.end(), ...windows],
  };
}

async function* dataRows(
  file: string,
  contract: Contract,
  onHeader?: (cells: readonly string[]) => void,
  onFlaw?: (flaw: CsvFlaw) => void,
): AsyncGenerator<readonly TextRow[], void> {
  let begun = false;
  for await (const batch of readCsv(file, contract.csv)) {
    for (const flaw of batch.flaws) onFlaw?.(flaw);
    const [first, ...rest] = batch.records;
    if (!first) continue;
    begun = true;
    if (contract.csv.header && first.record === 1) {
      onHeader?.(first.cells);
      yield rest;
    } else yield batch.records;
  }
  if (!begun && contract.csv.header) onHeader?.([]);
}
