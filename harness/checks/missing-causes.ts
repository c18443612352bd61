// Why readings are missing: all that were due are made once more, in the order in which they were sent, and the
// missing are set against the found. Only done where something is missing.
import {
  emissionPayload,
  FIELDS,
  fleetEvents,
  type Emission,
  type Reading,
  type Scenario,
  type TrackerSpec,
} from '../../sim/index.ts';
import type { Contract } from '../contract/contract.ts';
import { CausedCollector, MISSING_HYPOTHESES, type ReadingInstance } from '../diagnose/index.ts';
import type { DueOf } from '../expected/expected.ts';
import type { Finding } from '../verdict/verdict.ts';
import { exampleOfReading } from './check.ts';

/** Order in which the broker took emission `n` of a tracker, over the whole fleet; -1 where nobody saw it. */
export type ArrivalOf = (trackerId: string, n: number) => number;

export interface MissingInput {
  readonly scenario: Scenario;
  readonly contract: Contract;
  readonly dueOf: DueOf;
  readonly isMissing: (trackerId: string, reading: Reading) => boolean;
  readonly arrivalOf: ArrivalOf;
  readonly what: string;
}

interface Due {
  readonly spec: TrackerSpec;
  readonly emission: Emission;
  readonly inBatch: number;
  readonly reading: Reading;
  readonly before: Reading | undefined;
  readonly highestSeq: number;
  readonly latestSentMs: number;
  readonly newestBeforeMs: number;
  readonly ownBurst: number;
  readonly seqOfEarlierBoot: boolean;
}

/** Beyond so many due readings, what needs all of them at once is left out. */
const MOST_DUE = 1_000_000;
const TOGETHER_MS = 1000;

export function missingFindings(input: MissingInput): Finding[] {
  const due = allDue(input);
  const ranks = exportRanks(input.contract, due);
  const times = timesOfTrackers(due);
  const together = sentTogether(due);
  const lastFound = new Map<string, number>();
  const collector = new CausedCollector<ReadingInstance>(input.what, 'pipeline', MISSING_HYPOTHESES);
  due.forEach((one, k) => {
    const { spec, emission, reading, inBatch } = one;
    const id = spec.identity.imei;
    const make = (): ReadingInstance => ({
      expected: { reading, emission, inBatch, due: 'must', twins: [] },
      before: one.before,
      highestSeq: one.highestSeq,
      latestSentMs: one.latestSentMs,
      newestBeforeMs: one.newestBeforeMs,
      ownBurst: one.ownBurst,
      arrival: input.arrivalOf(id, emission.n),
      exportRank: ranks[k] ?? 0,
      sameTimeAsOther: (times.get(`${id} ${reading.atMs}`) ?? 0) > 1,
      seqOfEarlierBoot: one.seqOfEarlierBoot,
      payloadKind: spec.group.mqtt.payload,
      payloadBytes: emissionPayload(spec, emission).length,
      sinceFoundMs: reading.atMs - (lastFound.get(id) ?? Number.NEGATIVE_INFINITY),
      sentTogether: together[k] ?? 1,
    });
    if (input.isMissing(id, reading)) {
      collector.add(id, () => {
        const instance = make();
        return { instance, example: exampleOfReading(instance.expected) };
      });
    } else {
      collector.sound(make);
      lastFound.set(id, reading.atMs);
    }
  });
  return collector.findings();
}

/** What a tracker has sent so far. */
interface Past {
  before?: Reading;
  highestSeq: number;
  latestSentMs: number;
  /** Sequence numbers, with the boot in which each came first. */
  readonly seqs: Map<number, number>;
  /** Readings since a moment less than a second ago. */
  burst: { readonly fromMs: number; readings: number };
}

/** Every reading that must come out, once, in the order of sending. */
function allDue({ scenario, dueOf }: MissingInput): Due[] {
  const due: Due[] = [];
  const state = new Map<string, Past>();
  for (const { tracker: spec, event } of fleetEvents(scenario)) {
    if (event.kind !== 'emission' || event.repeat) continue;
    const id = spec.identity.imei;
    let past = state.get(id);
    if (!past) {
      past = {
        highestSeq: -1,
        latestSentMs: Number.NEGATIVE_INFINITY,
        seqs: new Map(),
        burst: { fromMs: Number.NEGATIVE_INFINITY, readings: 0 },
      };
      state.set(id, past);
    }
    const { latestSentMs } = past;
    if (event.atMs - past.burst.fromMs > TOGETHER_MS) past.burst = { fromMs: event.atMs, readings: 0 };
    past.burst.readings += event.readings.length;
    const ownBurst = past.burst.readings;
    for (const [inBatch, reading] of event.readings.entries()) {
      const bootOfSeq = past.seqs.get(reading.seq);
      if (due.length < MOST_DUE && dueOf(spec, event, reading) === 'must') {
        due.push({
          spec,
          emission: event,
          inBatch,
          reading,
          before: past.before,
          highestSeq: past.highestSeq,
          latestSentMs,
          newestBeforeMs: past.latestSentMs,
          ownBurst,
          seqOfEarlierBoot: bootOfSeq !== undefined && bootOfSeq < reading.boot,
        });
      }
      past.before = reading;
      past.highestSeq = Math.max(past.highestSeq, reading.seq);
      past.latestSentMs = Math.max(past.latestSentMs, reading.atMs);
      if (bootOfSeq === undefined) past.seqs.set(reading.seq, reading.boot);
    }
  }
  return due;
}

/** Rank of each due reading in the contract's order. */
function exportRanks({ order, columns }: Contract, due: readonly Due[]): Int32Array {
  const keys = order.flatMap(({ column, direction }) => {
    const name = columns.find((candidate) => candidate.name === column)?.field;
    const field = FIELDS.find((candidate) => candidate.name === name);
    return field ? [{ key: field.key, sign: direction === 'rising' ? 1 : -1 }] : [];
  });
  const sorted = due
    .map((_, k) => k)
    .toSorted((a, b) => {
      for (const { key, sign } of keys) {
        const [x, y] = [due[a]?.reading[key] ?? '', due[b]?.reading[key] ?? ''];
        if (x !== y) return x < y ? -sign : sign;
      }
      return 0;
    });
  const ranks = new Int32Array(due.length);
  sorted.forEach((k, rank) => (ranks[k] = rank));
  return ranks;
}

function timesOfTrackers(due: readonly Due[]): ReadonlyMap<string, number> {
  const times = new Map<string, number>();
  for (const { spec, reading } of due) {
    const key = `${spec.identity.imei} ${reading.atMs}`;
    times.set(key, (times.get(key) ?? 0) + 1);
  }
  return times;
}

/** Messages sent within a second of each reading's, its own included. `due` is in order of sending. */
function sentTogether(due: readonly Due[]): Int32Array {
  const counts = new Int32Array(due.length);
  const messages: { atMs: number; first: number }[] = [];
  const messageOf = new Int32Array(due.length);
  due.forEach(({ emission }, k) => {
    if (due[k - 1]?.emission !== emission) messages.push({ atMs: emission.atMs, first: k });
    messageOf[k] = messages.length - 1;
  });
  let from = 0;
  let to = 0;
  const perMessage = messages.map(({ atMs }) => {
    while ((messages[from]?.atMs ?? atMs) < atMs - TOGETHER_MS) from += 1;
    while (to < messages.length && (messages[to]?.atMs ?? 0) <= atMs + TOGETHER_MS) to += 1;
    return to - from;
  });
  for (let k = 0; k < due.length; k++) counts[k] = perMessage[messageOf[k] ?? 0] ?? 1;
  return counts;
}
