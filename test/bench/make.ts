// What making and encoding readings costs, beside a bare JSON.stringify of the same objects in the same run:
// `node --import tsx test/bench/make.ts`. Rounds are taken in turn, so that a busy machine strikes all alike;
// the median of the rounds' ratios is the figure.
import { pathToFileURL } from 'node:url';
import {
  emissionPayload,
  fleetEvents,
  wireReading,
  type Scenario,
  type WireReading,
} from '../../sim/index.ts';
import { scenarioOf } from '../support/scenarios.ts';

/** Half of the fleet moves, half stands; everyone reports once a minute. */
export function benchScenario(trackers: number, hours: number): Scenario {
  const half = Math.ceil(trackers / 2);
  return scenarioOf({
    seed: 'bench',
    lasts: `${hours}h`,
    fleet: [
      { name: 'trikes', count: half, motion: { kind: 'route', along: 'coast-road' } },
      { name: 'crates', count: half, motion: { kind: 'parked', at: 'ostrel-quay' } },
    ],
  });
}

const WARM_UP_ROUNDS = 30;

export interface MakeCost {
  readonly readings: number;
  /** Nanoseconds a reading, medians of the rounds. */
  readonly stringifyNs: number;
  readonly makeNs: number;
  readonly makeAndEncodeNs: number;
  /** Median of the rounds' ratios of making and encoding to bare JSON.stringify. */
  readonly ratio: number;
  /** Bytes written: the same work gives the same number. */
  readonly bytes: number;
}

export function makeCost(scenario: Scenario, rounds: number): MakeCost {
  // Few objects, so that the collector's work on them isn't charged to the making.
  const objects: WireReading[] = [];
  for (const { event } of fleetEvents(scenario)) {
    if (event.kind === 'emission') for (const reading of event.readings) objects.push(wireReading(reading));
  }
  let bytes = 0;
  const stringify = () => {
    for (const object of objects) bytes += JSON.stringify(object).length;
  };
  const make = () => {
    for (const { event } of fleetEvents(scenario))
      if (event.kind === 'emission') bytes += event.readings.length;
  };
  const makeAndEncode = () => {
    for (const { tracker, event } of fleetEvents(scenario)) {
      if (event.kind === 'emission') bytes += emissionPayload(tracker, event).length;
    }
  };
  const times = [stringify, make, makeAndEncode].map((work) => ({ work, ns: [] as number[] }));
  for (let round = -WARM_UP_ROUNDS; round < rounds; round++) {
    for (const { work, ns } of times) {
      const startNs = process.hrtime.bigint();
      work();
      if (round >= 0) ns.push(Number(process.hrtime.bigint() - startNs) / objects.length);
    }
  }
  const [base = [], made = [], whole = []] = times.map(({ ns }) => ns);
  return {
    readings: objects.length,
    stringifyNs: median(base),
    makeNs: median(made),
    makeAndEncodeNs: median(whole),
    ratio: median(whole.map((ns, k) => ns / (base[k] ?? Number.NaN))),
    bytes,
  };
}

export function median(values: readonly number[]): number {
  const sorted = values.toSorted((a, b) => a - b);
  return sorted[Math.floor(sorted.length / 2)] ?? Number.NaN;
}

if (import.meta.url === pathToFileURL(process.argv[1] ?? '').href) {
  const cost = makeCost(benchScenario(10, 24), 41);
  console.log(`making and encoding, ${cost.readings} readings a round, bytes written ${cost.bytes}`);
  console.log(`  bare JSON.stringify of the same objects  ${cost.stringifyNs.toFixed(0)} ns a reading`);
  console.log(`  making alone                             ${cost.makeNs.toFixed(0)} ns a reading`);
  console.log(`  making and encoding, plain               ${cost.makeAndEncodeNs.toFixed(0)} ns a reading`);
  console.log(`  ratio                                    ${cost.ratio.toFixed(2)}`);
}
