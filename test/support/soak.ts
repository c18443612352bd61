// One random case: any scenario, any contract that the reference pipeline can keep, any hardship; the sound pipeline
// must be held, or at worst not seen.
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import fc from 'fast-check';
import { parseContract } from '../../harness/contract/read-contract.ts';
import { startFrom } from '../../harness/pipeline/here.ts';
import { runFolder } from '../../harness/run/folder.ts';
import { judgeRun } from '../../harness/run/judge-run.ts';
import { collectEvidence } from '../../harness/run/run-scenario.ts';
import { FIELDS, parseScenario } from '../../sim/index.ts';
import { anyDraft, type Draft } from './scenarios.ts';

export interface SoakCase {
  readonly scenario: Draft;
  readonly contract: Draft;
  /** The pipeline crashes in the middle and comes back. */
  readonly crash: boolean;
  /** How lazily it commits, which is how long it holds back its acknowledgements. */
  readonly batch: { readonly rows: number; readonly ms: number };
}

export interface SoakOutcome {
  readonly broken: readonly string[];
  readonly incomplete: string | null;
  readonly rows: number;
}

const anyTimeForm = fc.constantFrom(
  { as: 'rfc3339', zone: 'UTC', secondDecimals: 3 },
  { as: 'rfc3339', zone: 'Etc/UTC', secondDecimals: 0 },
  { as: 'local', zone: 'Pacific/Chatham', secondDecimals: 3 },
  { as: 'local', zone: 'UTC', secondDecimals: 2 },
  { as: 'epoch-ms' },
  { as: 'epoch-s', secondDecimals: 3 },
);

/** Columns the identity needs, and any of the others in any order. */
const anyContract: fc.Arbitrary<Draft> = fc
  .record({
    fields: fc.shuffledSubarray(
      FIELDS.map(({ name }) => name).filter((name) => !['id', 'boot', 'seq', 'at'].includes(name)),
    ),
    time: anyTimeForm,
    csv: fc.record({
      delimiter: fc.constantFrom(',', ';', '|'),
      lineEnd: fc.constantFrom('crlf', 'lf'),
      header: fc.boolean(),
      byteOrderMark: fc.constantFrom('none', 'required'),
      formulaGuard: fc.constantFrom('', "'"),
    }),
    nullAs: fc.constantFrom('', 'n/a'),
    falling: fc.boolean(),
  })
  .map(({ fields, time, csv, nullAs, falling }) => ({
    wayproof: 'contract/1',
    title: 'any contract',
    columns: [
      { name: 'who', field: 'id' },
      { name: 'power_on', field: 'boot' },
      { name: 'number', field: 'seq' },
      { name: 'when', field: 'at', ...time },
      ...fields.map((field) => columnOf(field, nullAs)),
    ],
    identity: ['who', 'power_on', 'number'],
    order: ['when', 'who', 'power_on', 'number'].map((column) =>
      falling ? { column, direction: 'falling' } : column,
    ),
    window: { column: 'when' },
    csv,
  }));

function columnOf(name: string, nullAs: string): Draft {
  const field = FIELDS.find((candidate) => candidate.name === name);
  const nullable = field?.kind === 'number' && field.nullable;
  return { name: `col_${name}`, field: name, ...(nullable ? { nullAs } : {}) };
}

export const anySoakCase: fc.Arbitrary<SoakCase> = fc.record({
  scenario: anyDraft(),
  contract: anyContract,
  crash: fc.boolean(),
  batch: fc.record({ rows: fc.constantFrom(1, 20, 500), ms: fc.constantFrom(0, 5, 25) }),
});

/** Runs one case through real sockets and a real SQL file, and judges it. */
export async function soak({ scenario, contract, crash, batch }: SoakCase): Promise<SoakOutcome> {
  const path = mkdtempSync(join(tmpdir(), 'wayproof-soak-'));
  try {
    const scenarioFile = join(path, 'given-scenario.yaml');
    const contractFile = join(path, 'given-contract.yaml');
    const scenarioText = JSON.stringify({ wayproof: 'scenario/1', title: 'any', shows: 'any', ...scenario });
    const contractText = JSON.stringify(contract);
    writeFileSync(scenarioFile, scenarioText);
    writeFileSync(contractFile, contractText);
    const folder = runFolder(path);
    const record = await collectEvidence({
      scenario: parseScenario(scenarioText, scenarioFile),
      scenarioFile,
      contract: parseContract(contractText, contractFile),
      contractFile,
      folder,
      pace: 'full',
      port: 0,
      signal: new AbortController().signal,
      onProgress: () => {},
      crash,
      startPipeline: (options) => startFrom({ ...options, batch }),
    });
    const judged = await judgeRun(folder, undefined, true);
    return {
      broken: judged.verdict.checks.filter(({ outcome }) => outcome === 'broken').map(({ id }) => id),
      incomplete: record.incomplete,
      rows: judged.rows,
    };
  } finally {
    rmSync(path, { recursive: true, force: true });
  }
}
