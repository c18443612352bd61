// Makes a scenario's messages and publishes them to a broker, counting what the trackers did.
import {
  emissionPayload,
  fleetEvents,
  Ledger,
  publishFleet,
  rosterOf,
  StreamDigest,
  willPayload,
  type FleetStep,
  type Pace,
  type PublishProgress,
  type PublishSummary,
  type Scenario,
  type TrackerSpec,
} from '../../sim/index.ts';

/** How long the broker may owe something without anything going on before the wait is given up. */
const DRAIN_TIMEOUT_MS = 10_000;
const CONNECT_TIMEOUT_MS = 10_000;
const BACK_OFF_FIRST_MS = 50;
const BACK_OFF_LAST_MS = 5000;

export interface PublishToOptions {
  readonly pace: Pace;
  /** Kept in memory only where no file is given. */
  readonly ledgerFile?: string;
  readonly signal?: AbortSignal;
  readonly onProgress?: (progress: PublishProgress & { readonly readings: number }) => void;
}

/** What left the trackers, counted while it was made. */
export interface Published {
  readonly summary: PublishSummary;
  readonly readingsSent: number;
  readonly readingsUnsent: number;
  readonly messages: number;
  /** SHA-256 of the emission stream, as far as it was made. */
  readonly digest: string;
}

/** The user name and password a tracker shows the broker. */
export function credentialsOf(spec: TrackerSpec): { readonly username: string; readonly password: string } {
  return { username: spec.identity.imei, password: spec.identity.claimPin };
}

/** Publishes the whole scenario. NotCompleted where the broker can't be reached or stops taking messages. */
export async function publishTo(
  scenario: Scenario,
  target: { readonly host: string; readonly port: number },
  options: PublishToOptions,
): Promise<Published> {
  const roster = rosterOf(scenario);
  const counting = new CountedSteps(scenario);
  const ledger = await Ledger.open(options.ledgerFile, { seed: scenario.seed, scenario: scenario.title });
  try {
    const summary = await publishFleet({
      steps: counting.steps(),
      target,
      clientFor: (index) => clientOptions(roster[index]),
      pace: options.pace,
      ledger,
      startMs: scenario.startMs,
      drainTimeoutMs: DRAIN_TIMEOUT_MS,
      ...(options.signal ? { signal: options.signal } : {}),
      onProgress: (progress) => options.onProgress?.({ ...progress, readings: counting.readingsSent }),
    });
    return {
      summary,
      readingsSent: counting.readingsSent,
      readingsUnsent: counting.readingsUnsent,
      messages: counting.messages,
      digest: counting.digest.hex(),
    };
  } finally {
    await ledger.close();
  }
}

class CountedSteps {
  readonly #scenario: Scenario;
  readonly digest = new StreamDigest();
  readingsSent = 0;
  readingsUnsent = 0;
  messages = 0;

  constructor(scenario: Scenario) {
    this.#scenario = scenario;
  }

  *steps(): Generator<FleetStep, void> {
    for (const { tracker, event } of fleetEvents(this.#scenario)) {
      if (event.kind === 'stage') continue;
      if (event.kind === 'discard') {
        this.readingsUnsent += event.readings.length;
        continue;
      }
      const step = { tracker: tracker.index, trackerId: tracker.identity.imei, event };
      if (event.kind !== 'emission') {
        yield { ...step, payload: undefined };
        continue;
      }
      const payload = emissionPayload(tracker, event);
      this.digest.add(tracker, event, payload);
      this.messages += 1;
      if (!event.repeat) this.readingsSent += event.readings.length;
      yield { ...step, payload };
    }
  }
}

function clientOptions(
  spec: TrackerSpec | undefined,
): ReturnType<Parameters<typeof publishFleet>[0]['clientFor']> {
  if (!spec) throw new Error('a step of a tracker that is not in the roster');
  const { mqtt } = spec.group;
  return {
    clientId: spec.identity.imei,
    ...credentialsOf(spec),
    keepAliveS: mqtt.keepAliveS,
    cleanSession: mqtt.session === 'clean',
    inFlight: mqtt.inFlight,
    ...(mqtt.status
      ? { will: { topic: spec.statusTopic, payload: willPayload(spec), qos: mqtt.qos, retain: true } }
      : {}),
    backOffFirstMs: BACK_OFF_FIRST_MS,
    backOffLastMs: BACK_OFF_LAST_MS,
    connectTimeoutMs: CONNECT_TIMEOUT_MS,
  };
}
