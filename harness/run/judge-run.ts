// Judges the evidence of a run folder. Needs nothing but the folder, so old evidence can be judged again.
import { existsSync, readFileSync } from 'node:fs';
import { basename } from 'node:path';
import {
  BadInput,
  fleetEvents,
  parseScenario,
  RangeSet,
  streamDigest,
  readLedger,
  readTap,
  type LedgerRecord,
  type Scenario,
} from '../../sim/index.ts';
import { judgeExport, type ExportFile } from '../checks/judge.ts';
import { PayloadsValid } from '../checks/payloads.ts';
import { checkRejects, type Rejected } from '../checks/rejects.ts';
import { checkBrokerKeeps, checkBrokerOrder } from '../checks/transit.ts';
import type { Contract } from '../contract/contract.ts';
import { parseContract } from '../contract/read-contract.ts';
import { readCsv, RFC4180 } from '../csv/reader.ts';
import { dueByEvidence, type Delivery } from '../expected/due.ts';
import { reconcileTap, type AtTap } from '../expected/reconcile.ts';
import { cutShort, fold, type Verdict } from '../verdict/verdict.ts';
import type { RunFolder } from './folder.ts';
import { parseRecord, type RunRecord } from './record.ts';

export interface RunJudged {
  readonly scenario: Scenario;
  readonly contract: Contract;
  readonly verdict: Verdict;
  /** Null where run and evidence are whole; else what is missing, in words. */
  readonly incomplete: string | null;
  readonly rows: number;
  readonly acked: number;
  readonly resent: number;
  readonly accepted: number;
}

/** What the folder says was run. BadInput where it isn't a run folder. */
export function readRun(folder: RunFolder): { record: RunRecord; scenario: Scenario; contract: Contract } {
  for (const file of [
    folder.run,
    folder.scenario,
    folder.contract,
    folder.ledger,
    folder.tap,
    folder.whole,
  ]) {
    if (existsSync(file)) continue;
    throw new BadInput(
      `${folder.path}: expected the folder of a run, found no ${basename(file)} in it. Mend: name a folder that wayproof run made.`,
    );
  }
  const record = parseRecord(readFileSync(folder.run, 'utf8'));
  if (!record) {
    throw new BadInput(
      `${folder.run}: expected the record of a run, found one that was cut short or changed. Mend: run the scenario again.`,
    );
  }
  return {
    record,
    scenario: parseScenario(readFileSync(folder.scenario, 'utf8'), record.scenarioFile, {
      seed: record.seed,
    }),
    contract: parseContract(readFileSync(folder.contract, 'utf8'), folder.contract),
  };
}

/** Old evidence may be of another scenario, place or version: then nothing can be said of it. */
function requireSameDigest(folder: RunFolder, record: RunRecord, scenario: Scenario): void {
  // A run that was cut short has the digest of a part.
  if (record.incomplete !== null || streamDigest(fleetEvents(scenario)) === record.digest) return;
  throw new BadInput(
    `${folder.path}: expected the scenario and seed that were run, found ones that send something else. Mend: judge it with the files and the version of wayproof that ran it, or run again.`,
  );
}

/** What the evidence lacks, in words: a verdict over it can't be held. */
function gapsIn(ledger: LedgerRecord, tap: AtTap): string[] {
  return [
    ...(ledger.closed ? [] : ['the ledger is cut short or was changed']),
    ...(tap.complete ? [] : ['the tap is cut short or was changed']),
  ];
}

/**
 * The verdict over a run's evidence. `fresh`: it was collected just now, by this very process.
 * `onRows` is told how many rows have been judged.
 */
export async function judgeRun(
  folder: RunFolder,
  onRows?: (rows: number) => void,
  fresh = false,
): Promise<RunJudged> {
  const { record, scenario, contract } = readRun(folder);
  if (!fresh) requireSameDigest(folder, record, scenario);
  const ledger = await readLedger(folder.ledger);
  const payloads = new PayloadsValid();
  const tap = await reconcileTap(scenario, readTap(folder.tap), (spec, emission, payload) =>
    payloads.take(spec, emission, payload),
  );
  const file = (name: string, { fromMs, toMs }: { fromMs: number; toMs: number }): ExportFile => ({
    file: name,
    fromMs,
    toMs,
  });
  const judged = await judgeExport({
    scenario,
    contract,
    dueOf: dueByEvidence(deliveries(ledger, tap), {
      latenessMs: contract.latenessMs,
      heardAll: record.pipelineDrops === 0,
      ledgerWhole: ledger.closed,
    }),
    whole: file(folder.whole, record.whole),
    again: file(folder.again, record.whole),
    evidence: {
      arrivalOf: (id, n) => tap.trackers.get(id)?.arrivals[n] ?? -1,
      sentAgain: (id, n) => tap.trackers.get(id)?.again.has(n) ?? false,
    },
    windows: record.windows.map((window, k) => file(folder.window(k), window)),
    ...(onRows ? { onRows } : {}),
  });
  const rejects = await readRejects(folder.rejects);
  const { acked, resent } = totals(ledger);
  const gaps = [...(record.incomplete === null ? [] : [record.incomplete]), ...gapsIn(ledger, tap)];
  const verdict = fold([
    checkBrokerKeeps(ledger, tap),
    checkBrokerOrder(tap),
    payloads.end(tap),
    checkRejects(rejects, tap.messages, tap.strangeCount),
    ...judged.checks,
  ]);
  return {
    scenario,
    contract,
    rows: judged.rows,
    acked,
    resent,
    accepted: tap.messages,
    incomplete: gaps.length === 0 ? null : gaps.join('; '),
    verdict: gaps.length === 0 ? verdict : cutShort(verdict),
  };
}

function deliveries(ledger: LedgerRecord, tap: AtTap): ReadonlyMap<string, Delivery> {
  const none = new RangeSet();
  return new Map(
    [...tap.trackers].map(([id, { accepted }]) => {
      const sets = ledger.trackers.get(id)?.sets;
      return [id, { attempted: sets?.attempted ?? none, acked: sets?.acked ?? none, accepted }];
    }),
  );
}

function totals(ledger: LedgerRecord): { acked: number; resent: number } {
  let acked = 0;
  let resent = 0;
  for (const { sets } of ledger.trackers.values()) {
    acked += sets.acked.size;
    resent += sets.again.size;
  }
  return { acked, resent };
}

async function readRejects(file: string): Promise<Rejected[] | undefined> {
  if (!existsSync(file)) return undefined;
  const rejects: Rejected[] = [];
  for await (const { records } of readCsv(file, RFC4180)) {
    for (const { record, cells } of records) {
      if (record > 1) rejects.push({ topic: cells[1] ?? '', reason: cells[2] ?? '' });
    }
  }
  return rejects;
}
