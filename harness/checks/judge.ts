// The front door of the checks: one export, its windows and what the evidence says, in; check results out.
import type { Scenario } from '../../sim/index.ts';
import type { Contract } from '../contract/contract.ts';
import { readCsv, type CsvFlaw } from '../csv/reader.ts';
import { expectedFleet, type DueOf } from '../expected/expected.ts';
import type { CheckResult } from '../verdict/verdict.ts';
import type { Check } from './check.ts';
import { Header, WellFormed } from './csv.ts';
import { BatchesWhole, Complete, NoRepeats, NothingInvented } from './ingest.ts';
import { RowsSorted, TrackerOrder } from './ordering.ts';
import { namingOf, RowReader } from './row-reader.ts';
import { RowTimes } from './row-times.ts';
import { RowsValid } from './schema.ts';
import { Values } from './values.ts';
import { checkStable, checkWindows, type TextRow, type WindowExport } from './window.ts';

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
  const checks: readonly Check[] = [
    new Complete(),
    new NothingInvented(),
    new NoRepeats(contract),
    new BatchesWhole(contract),
    new RowsSorted(contract),
    new TrackerOrder(contract),
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

  const whole = () => dataRows(file, contract);
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
  const windows = await checkWindows(times, whole, input.windows.map(asWindow));
  const stable = await checkStable(contract, times, whole, input.again && asWindow(input.again));
  return {
    rows,
    checks: [...checks.map((check) => check.end()), ...values.end(), header.end(), windows, stable],
  };
}

async function* dataRows(
  file: string,
  contract: Contract,
  onHeader?: (cells: readonly string[]) => void,
  onFlaw?: (flaw: CsvFlaw) => void,
): AsyncGenerator<TextRow, void> {
  let begun = false;
  for await (const batch of readCsv(file, contract.csv)) {
    for (const record of batch.records) {
      if (!(contract.csv.header && record.record === 1)) yield record;
      else onHeader?.(record.cells);
      begun = true;
    }
    for (const flaw of batch.flaws) onFlaw?.(flaw);
  }
  if (!begun && contract.csv.header) onHeader?.([]);
}
