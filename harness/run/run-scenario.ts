// The main job: simulate, publish, ingest, export; then judge what is in the folder.
// Evidence is saved before anything is judged.
import { copyFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as wait } from 'node:timers/promises';
import {
  packageRoot,
  rosterOf,
  startBroker,
  Tap,
  type Broker,
  type Pace,
  type Rights,
  type Scenario,
} from '../../sim/index.ts';
import type { Contract } from '../contract/contract.ts';
import { HostedPipeline } from '../pipeline/host.ts';
import type { HostedOptions } from '../pipeline/messages.ts';
import type { BatchSize, Pipeline } from '../pipeline/pipeline.ts';
import type { RunFolder } from './folder.ts';
import { credentialsOf, publishTo, type Published } from './publish-to.ts';
import type { RunRecord } from './record.ts';
import { crashMidway, messagesOf } from './restart.ts';
import { fleetTopics, type FleetTopic } from './topics.ts';
import { windowPeriods, wholePeriod } from './windows.ts';

export interface RunProgress {
  readonly step: 'publish' | 'drain' | 'export' | 'judge';
  readonly virtualMs: number;
  readonly readings: number;
  readonly published: number;
  readonly acked: number;
  readonly stored: number;
}

export interface RunOptions {
  readonly scenario: Scenario;
  readonly scenarioFile: string;
  readonly contract: Contract;
  readonly contractFile: string;
  readonly folder: RunFolder;
  readonly pace: Pace;
  /** 0 = any free port. */
  readonly port: number;
  readonly signal: AbortSignal;
  readonly onProgress: (progress: RunProgress) => void;
  /** Name of a deliberate defect of the pipeline; left out = none. */
  readonly defect?: string;
  /** Whether the pipeline crashes in the middle of the run, and starts again. */
  readonly crash?: boolean;
  /** Left out = in a process of its own. */
  readonly startPipeline?: (options: HostedOptions) => Promise<Pipeline>;
  /** How long the pipeline may stand still with messages to come. Left out = 10 s. */
  readonly patienceMs?: number;
}

export const DEFAULT_CONTRACT_FILE: string = join('scenarios', 'contracts', 'reference.yaml');

const PIPELINE_CLIENT = {
  clientId: 'reference-pipeline',
  username: 'pipeline',
  password: 'pipeline',
} as const;

/** The embedded broker doesn't wait for acknowledgements, so that a commit, which waits for the disk, can serve many. */
const BATCH: BatchSize = { rows: 500, ms: 20 };

/** How long the pipeline may stand still with messages to come before the wait is given up. */
const STILL_MS = 10_000;
const POLL_MS = 50;
/** After so long a standstill nothing more is taken to come, where counts alone leave it open. */
const LOST_MS = 3000;
/** A message that comes again counts twice, so that the count alone doesn't show that all have come. */
const QUIET_POLLS = 2;
/** After a crash many come again. */
const QUIET_POLLS_AFTER_CRASH = 6;

/** Fills the run folder with evidence. What couldn't be completed stands in `incomplete`, in words. */
export async function collectEvidence(options: RunOptions): Promise<RunRecord> {
  const { scenario, folder } = options;
  const topics = fleetTopics(scenario);
  copyFileSync(options.scenarioFile, folder.scenario);
  copyFileSync(contractPath(options.contractFile), folder.contract);
  const tap = await Tap.open(
    folder.tap,
    { seed: scenario.seed },
    topics.map(({ filter }) => filter),
  );
  try {
    const broker = await startBroker({
      port: options.port,
      authorise: rightsOf(scenario, topics),
      tap,
      watch: PIPELINE_CLIENT.clientId,
    });
    try {
      const record = await throughPipeline(options, broker, tap, topics);
      writeFileSync(folder.run, `${JSON.stringify(record, undefined, 2)}\n`);
      return record;
    } finally {
      await broker.close();
    }
  } finally {
    await tap.close();
  }
}

function contractPath(file: string): string {
  return file === DEFAULT_CONTRACT_FILE ? join(packageRoot(), file) : file;
}

async function throughPipeline(
  options: RunOptions,
  broker: Broker,
  tap: Tap,
  topics: readonly FleetTopic[],
): Promise<RunRecord> {
  const { scenario, folder, signal } = options;
  const start = options.startPipeline ?? ((hosted) => HostedPipeline.start(hosted));
  const pipeline = await start({
    storeFile: folder.store,
    broker: { host: broker.host, port: broker.port, ...PIPELINE_CLIENT },
    subscriptions: topics,
    batch: BATCH,
    ...(options.defect === undefined ? {} : { defect: options.defect }),
  });
  const readings = topics.filter(({ payload }) => payload !== null).map(({ filter }) => filter);
  const accepted = () => readings.reduce((sum, filter) => sum + (tap.accepted.get(filter) ?? 0), 0);
  try {
    let stored = 0;
    let last = { virtualMs: scenario.startMs, readings: 0, published: 0, acked: 0 };
    const tell = (step: RunProgress['step']) => options.onProgress({ step, stored, ...last });
    // Counted before anything moves: it keeps the process busy for a while.
    const messages = options.crash === true ? messagesOf(scenario) : 0;
    const publishing = publishTo(scenario, broker, {
      pace: options.pace,
      ledgerFile: folder.ledger,
      signal,
      onProgress: ({ virtualMs, readings, emissions, acked }) => {
        last = { virtualMs, readings, published: emissions, acked };
        tell('publish');
        void pipeline.counts().then(
          (counts) => (stored = counts.stored),
          () => undefined,
        );
      },
    });
    if (options.crash === true) await crashMidway(pipeline, messages, accepted, publishing);
    const published = await publishing;
    const patience = {
      quietMs: (options.crash === true ? QUIET_POLLS_AFTER_CRASH : QUIET_POLLS) * POLL_MS,
      stillMs: options.patienceMs ?? STILL_MS,
    };
    // What came at QoS 0 while the pipeline was away isn't sent again: it need not come.
    const due = () => accepted() - (broker.stats.watchedDrops > 0 ? tap.atQos0 : 0);
    const owed = await drained(
      pipeline,
      { accepted, due, owed: () => broker.owed(PIPELINE_CLIENT.clientId) },
      patience,
      (now) => {
        stored = now;
        tell('drain');
      },
    );
    tell('export');
    await exportAll(options, pipeline);
    return runRecord(options, published, broker.stats.watchedDrops, [
      ...published.summary.pending,
      ...(owed === undefined ? [] : [owed]),
    ]);
  } finally {
    await pipeline.close();
  }
}

/** Waits until the pipeline has taken every message the broker accepted; what it still owes, in words, if it stops. */
async function drained(
  pipeline: Pipeline,
  messages: {
    readonly accepted: () => number;
    readonly due: () => number;
    /** What the broker still keeps for the pipeline: a message that comes again is counted twice, so counts don't tell. */
    readonly owed: () => Promise<number>;
  },
  patience: { readonly quietMs: number; readonly stillMs: number },
  onStored: (stored: number) => void,
): Promise<string | undefined> {
  let before = -1;
  let stillMs = 0;
  for (;;) {
    const counts = await pipeline.counts();
    onStored(counts.stored);
    stillMs = counts.messages === before ? stillMs + POLL_MS : 0;
    before = counts.messages;
    const quiet = counts.pending === 0 && stillMs >= patience.quietMs;
    const still = counts.pending === 0 && stillMs >= Math.min(LOST_MS, patience.stillMs);
    if (quiet && counts.messages >= messages.accepted() && (await messages.owed()) === 0) return undefined;
    // After a crash the broker may keep for ever what the pipeline has acknowledged to a connection that was gone.
    if (still && counts.messages >= messages.due()) return undefined;
    if (stillMs >= patience.stillMs) {
      return `the pipeline took ${counts.messages} of ${messages.accepted()} messages and then nothing for ${patience.stillMs / 1000} s`;
    }
    if (counts.pending > 0) await pipeline.flush();
    await wait(POLL_MS);
  }
}

async function exportAll({ scenario, contract, folder }: RunOptions, pipeline: Pipeline): Promise<void> {
  const form = { columns: contract.columns, order: contract.order, csv: contract.csv };
  const whole = wholePeriod(scenario);
  await pipeline.exportCsv({ ...whole, file: folder.whole, ...form });
  await pipeline.exportCsv({ ...whole, file: folder.again, ...form });
  for (const [k, period] of windowPeriods(scenario).entries()) {
    await pipeline.exportCsv({ ...period, file: folder.window(k), ...form });
  }
  await pipeline.exportRejects(folder.rejects);
}

function runRecord(
  options: RunOptions,
  published: Published,
  pipelineDrops: number,
  owed: readonly string[],
): RunRecord {
  const { scenario } = options;
  const interrupted = published.summary.interrupted ? ['it was interrupted'] : [];
  const incomplete = [...interrupted, ...owed];
  return {
    wayproof: 'run/1',
    scenarioFile: options.scenarioFile,
    contractFile: options.contractFile,
    seed: scenario.seed,
    defect: options.defect ?? null,
    digest: published.digest,
    whole: wholePeriod(scenario),
    windows: windowPeriods(scenario),
    readingsSent: published.readingsSent,
    readingsUnsent: published.readingsUnsent,
    messages: published.messages,
    pipelineDrops,
    incomplete: incomplete.length === 0 ? null : incomplete.join('; '),
  };
}

/** A tracker may publish under its own topics only; the pipeline may read the fleet's. */
function rightsOf(
  scenario: Scenario,
  topics: readonly FleetTopic[],
): (clientId: string, username?: string, password?: string) => Rights | undefined {
  const trackers = new Map(rosterOf(scenario).map((spec) => [spec.identity.imei, spec]));
  return (clientId, username, password) => {
    if (clientId === PIPELINE_CLIENT.clientId) {
      const known = username === PIPELINE_CLIENT.username && password === PIPELINE_CLIENT.password;
      return known ? { publish: [], subscribe: topics.map(({ filter }) => filter) } : undefined;
    }
    const spec = trackers.get(clientId);
    if (!spec) return undefined;
    const own = credentialsOf(spec);
    if (username !== own.username || password !== own.password) return undefined;
    return { publish: [spec.readingsTopic, spec.statusTopic], subscribe: [] };
  };
}
