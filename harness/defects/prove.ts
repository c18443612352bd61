// Proves a check: damages the reference pipeline, runs it over a scenario, and looks who notices and what they say.
import { mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { BadInput, decoderFor, packageRoot, readScenario } from '../../sim/index.ts';
import { readContract } from '../contract/read-contract.ts';
import type { MakeDamage } from '../pipeline/damage.ts';
import type { HostedOptions } from '../pipeline/messages.ts';
import type { BatchSize, Pipeline } from '../pipeline/pipeline.ts';
import { ReferencePipeline } from '../pipeline/reference.ts';
import { runFolder } from '../run/folder.ts';
import { judgeRun } from '../run/judge-run.ts';
import { collectEvidence, DEFAULT_CONTRACT_FILE } from '../run/run-scenario.ts';
import type { Cause, Hop, Outcome, Verdict } from '../verdict/verdict.ts';
import { composed } from './compose.ts';
import type { Defect } from './defect.ts';

export const PROVING_GROUND: string = join('scenarios', 'proving-ground.yaml');

const BATCH: BatchSize = { rows: 200, ms: 4 };

/** A pipeline that stands still is given up soon: nothing else goes on in a proof. */
const PATIENCE_MS = 1000;

export interface NamedCause {
  readonly name: string;
  readonly check: string;
  readonly hop: Hop;
  readonly sure: Cause['sure'];
}

export interface Proof {
  /** Null for the undamaged pipeline. */
  readonly defect: string | null;
  readonly scenario: string;
  readonly outcome: Outcome;
  readonly brokenChecks: readonly string[];
  readonly causes: readonly NamedCause[];
  readonly readings: number;
  readonly seconds: number;
  /** The defect's main check broke; for the undamaged pipeline: everything held, to the end. */
  readonly caught: boolean;
  /** One of the causes named is the defect's own. */
  readonly rightCause: boolean;
  /** Where the main check names that cause, or else any other, it is placed at the defect's hop. */
  readonly rightHop: boolean;
  /** What wasn't completed, in words: a pipeline that stands still is told by it. */
  readonly incomplete: string | null;
}

export interface ProveOptions {
  /** Left out = the defect's own, else the proving ground. */
  readonly scenarioFile?: string;
  readonly signal?: AbortSignal;
  /** Evidence goes there, and stays; left out = a temporary folder that doesn't. */
  readonly folder?: string;
}

/** Null = the undamaged pipeline, in which everything must hold. Rejects with BadInput, NotCompleted. */
export async function proveDefect(defect: Defect | null, options: ProveOptions = {}): Promise<Proof> {
  const told = await runDamaged(defect === null ? [] : [defect], options);
  return defect === null ? soundProof(told) : proofOf(defect, told);
}

/**
 * Several defects in one pipeline and one run; a proof for each. They must share scenario and contract.
 * Rejects with BadInput where they can't go together, and NotCompleted.
 */
export async function proveTogether(
  defects: readonly Defect[],
  options: ProveOptions = {},
): Promise<readonly Proof[]> {
  const told = await runDamaged(defects, options);
  return defects.map((defect) => proofOf(defect, told));
}

type Told = Pick<
  Proof,
  'scenario' | 'outcome' | 'brokenChecks' | 'causes' | 'readings' | 'seconds' | 'incomplete'
>;

function soundProof(told: Told): Proof {
  const quiet = told.causes.length === 0;
  return {
    ...told,
    defect: null,
    caught: told.outcome === 'held' && told.incomplete === null,
    rightCause: quiet,
    rightHop: quiet,
  };
}

function proofOf(defect: Defect, told: Told): Proof {
  const right = told.causes.filter(({ name }) => name === defect.cause);
  const byMain = right.filter(({ check }) => check === defect.breaks[0]);
  const placed = byMain.length > 0 ? byMain : right;
  return {
    ...told,
    defect: defect.name,
    caught: told.brokenChecks.includes(defect.breaks[0]),
    rightCause: right.length > 0,
    rightHop: placed.length > 0 && placed.every(({ hop }) => hop === defect.hop),
  };
}

/** One run of the pipeline with all the damage, judged. */
async function runDamaged(defects: readonly Defect[], options: ProveOptions): Promise<Told> {
  const startedMs = Date.now();
  const own = (what: string, of: (defect: Defect) => string | undefined, sound: string): string => {
    const [file = sound, other] = new Set(defects.map((defect) => of(defect) ?? sound));
    if (other === undefined) return join(packageRoot(), file);
    throw new BadInput(
      `defects: expected one ${what} for all, found ${file} and ${other}. Mend: prove them one by one.`,
    );
  };
  const scenarioFile = options.scenarioFile ?? own('scenario', ({ scenario }) => scenario, PROVING_GROUND);
  const contractFile = own('contract', ({ contract }) => contract, DEFAULT_CONTRACT_FILE);
  const damage = composed(defects.map((defect) => defect.damage));
  const path = options.folder ?? mkdtempSync(join(tmpdir(), 'wayproof-defect-'));
  mkdirSync(path, { recursive: true });
  try {
    const folder = runFolder(path);
    const record = await collectEvidence({
      scenario: readScenario(scenarioFile),
      scenarioFile,
      contract: readContract(contractFile),
      contractFile,
      folder,
      pace: 'full',
      port: 0,
      signal: options.signal ?? new AbortController().signal,
      onProgress: () => {},
      crash: defects.every(({ crash }) => crash ?? true),
      startPipeline: (hosted) => startHere(hosted, damage),
      // The sound pipeline gets all the time it wants: a false alarm for want of patience would be ours.
      ...(defects.length === 0 ? {} : { patienceMs: PATIENCE_MS }),
    });
    const { verdict } = await judgeRun(folder, undefined, true);
    return {
      scenario: scenarioFile,
      outcome: verdict.outcome,
      brokenChecks: verdict.checks.filter(({ outcome }) => outcome === 'broken').map(({ id }) => id),
      causes: causesOf(verdict),
      readings: record.readingsSent,
      seconds: (Date.now() - startedMs) / 1000,
      incomplete: record.incomplete,
    };
  } finally {
    if (options.folder === undefined) rmSync(path, { recursive: true, force: true });
  }
}

/** In this process, which saves the start of another. */
function startHere({ subscriptions, ...given }: HostedOptions, damage: MakeDamage): Promise<Pipeline> {
  const decoded = subscriptions.map(({ filter, payload }) => ({
    filter,
    decode: payload === null ? null : decoderFor(payload),
  }));
  return ReferencePipeline.start({ ...given, subscriptions: decoded, batch: BATCH }, damage);
}

function causesOf({ checks }: Verdict): NamedCause[] {
  return checks
    .filter(({ outcome }) => outcome === 'broken')
    .flatMap(({ id, findings }) =>
      findings.flatMap(({ cause, hop }) =>
        cause === null ? [] : [{ name: cause.name, check: id, hop, sure: cause.sure }],
      ),
    );
}
