// Proves a check: damages the reference pipeline, runs it over a scenario, and looks who notices and what they say.
import { mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { packageRoot, readScenario } from '../../sim/index.ts';
import { readContract } from '../contract/read-contract.ts';
import { startFrom } from '../pipeline/here.ts';
import { runFolder } from '../run/folder.ts';
import { judgeRun } from '../run/judge-run.ts';
import { collectEvidence, DEFAULT_CONTRACT_FILE } from '../run/run-scenario.ts';
import type { Cause, Hop, Outcome, Verdict } from '../verdict/verdict.ts';
import type { Defect } from './defect.ts';

export const PROVING_GROUND: string = join('scenarios', 'proving-ground.yaml');

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
  const startedMs = Date.now();
  const scenarioFile = options.scenarioFile ?? join(packageRoot(), defect?.scenario ?? PROVING_GROUND);
  const contractFile = join(packageRoot(), defect?.contract ?? DEFAULT_CONTRACT_FILE);
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
      crash: true,
      startPipeline: (given) => startFrom({ ...given, batch: { rows: 200, ms: 4 } }),
      patienceMs: PATIENCE_MS,
      ...(defect === null ? {} : { defect: defect.name }),
    });
    const { verdict } = await judgeRun(folder);
    const brokenChecks = verdict.checks.filter(({ outcome }) => outcome === 'broken').map(({ id }) => id);
    const causes = causesOf(verdict);
    return {
      defect: defect?.name ?? null,
      scenario: scenarioFile,
      outcome: verdict.outcome,
      brokenChecks,
      causes,
      readings: record.readingsSent,
      seconds: (Date.now() - startedMs) / 1000,
      caught:
        defect === null
          ? verdict.outcome === 'held' && record.incomplete === null
          : brokenChecks.includes(defect.breaks[0]),
      rightCause: defect === null ? causes.length === 0 : causes.some(({ name }) => name === defect.cause),
      incomplete: record.incomplete,
    };
  } finally {
    if (options.folder === undefined) rmSync(path, { recursive: true, force: true });
  }
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
