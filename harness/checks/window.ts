// Exports of periods [from, to), and a second export, against the export of the whole.
import type { Contract } from '../contract/contract.ts';
import type { CheckResult } from '../verdict/verdict.ts';
import { notSeen, result, type CheckAbout } from './check.ts';
import {
  Comparison,
  difference,
  IN_SECOND,
  IN_WINDOW,
  type Difference,
  type Membership,
  type RowBatches,
  type WindowExport,
} from './comparison.ts';
import type { RowTimes } from './row-times.ts';

export type { TextRow, WindowExport } from './comparison.ts';

export const WINDOW_EXACT: CheckAbout = {
  id: 'window.exact',
  family: 'window',
  promise: 'an export of [from, to) holds exactly the rows measured in it; neighbours add up to the whole',
  proves:
    'each window holds the rows of the whole export whose time lies in it, boundary instants included once',
  cannotProve: 'the completeness of the whole export itself; ingest.complete does that',
};

export const ORDER_STABLE: CheckAbout = {
  id: 'ordering.stable',
  family: 'ordering',
  promise: 'two exports of one period are the same, row for row',
  proves: 'the second export equals the first in every row and in their order',
  cannotProve: 'that a third would',
};

/**
 * Compares windows, and a second export of the whole, with the whole, which is read once.
 * `times` knows of its rows what their cells leave open.
 */
export async function checkWindows(
  contract: Contract,
  times: RowTimes | undefined,
  whole: RowBatches,
  windows: readonly WindowExport[],
  again: WindowExport | undefined,
): Promise<[exact: CheckResult, stable: CheckResult]> {
  const exact = difference(IN_WINDOW);
  const stable = difference(IN_SECOND);
  const comparisons = [
    ...(times
      ? windows.map((window) => new Comparison(contract, window, withinWindow(times, window), times, exact))
      : []),
    ...(again ? [new Comparison(contract, again, EVERYTHING, times, stable)] : []),
  ];
  for (let step = await whole.next(); !step.done; step = await whole.next()) {
    for (const comparison of comparisons) await comparison.due(step.value);
  }
  for (const comparison of comparisons) await comparison.end();
  return [exactResult(exact, windows.length, times), stableResult(stable, contract, again)];
}

function exactResult(total: Difference, windows: number, times: RowTimes | undefined): CheckResult {
  if (windows === 0) return notSeen(WINDOW_EXACT, 'no period was exported beside the whole');
  if (!times) return notSeen(WINDOW_EXACT, 'the column that windows go by is not exported as a time');
  return result(WINDOW_EXACT, total.rows, `${windows} windows, ${total.rows} rows in them`, [
    ...total.missing.findings(),
    ...total.outside.findings(),
    ...total.surplus.findings(),
    ...total.unlike.findings(),
  ]);
}

function stableResult(total: Difference, contract: Contract, again: WindowExport | undefined): CheckResult {
  if (!again) return notSeen(ORDER_STABLE, 'the whole period was exported once only');
  const findings = [...total.missing.findings(), ...total.surplus.findings(), ...total.unlike.findings()];
  const ordered = contract.order.length > 0;
  // Where rows differ, their order says nothing of its own.
  return result(
    ORDER_STABLE,
    total.rows,
    `${total.rows} rows exported twice${ordered ? '' : '; the contract promises no order of rows'}`,
    findings.length > 0 || !ordered ? findings : total.order.findings(),
  );
}

const EVERYTHING: Membership = { wanted: () => true, belongs: () => true };

function withinWindow(times: RowTimes, { fromMs, toMs }: WindowExport): Membership {
  const isIn = (atMs: number): boolean => atMs >= fromMs && atMs < toMs;
  return {
    wanted: (row) => times.ofWhole(row).some(isIn),
    belongs: (row) => times.ofCell(row).some(isIn),
  };
}
