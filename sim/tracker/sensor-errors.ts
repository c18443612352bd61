// How one sensor errs: white noise, bias, linear drift, a random walk of the bias, and the faults of a scenario.
import { DAY_MS, MINUTE_MS } from '../clock.ts';
import type { RandomStream } from '../random.ts';
import type { Ratio, SensorName, SensorPlan } from '../scenario/scenario.ts';
import { OnGrid, type Stepper } from './on-grid.ts';
import type { Quantiser } from './quantise.ts';

/** The faults that strike the sensors of one tracker at the moment of a sample. */
export interface SensorFaults {
  stuck(sensor: SensorName): boolean;
  silent(sensor: SensorName): boolean;
  spike(sensor: SensorName): { readonly by: number; readonly share: Ratio } | undefined;
}

/** No fault. Pass this very object where there is none: it is the fast path. */
export const NO_SENSOR_FAULTS: SensorFaults = {
  stuck: () => false,
  silent: () => false,
  spike: () => undefined,
};

const WALK_GRID_MS = 10 * MINUTE_MS;

/** Random walk from 0 with a standard deviation of `perSqrtDay` after one day. */
class RandomWalk implements Stepper {
  readonly #perSqrtDay: number;
  readonly #random: RandomStream;
  #value = 0;

  constructor(perSqrtDay: number, random: RandomStream) {
    this.#perSqrtDay = perSqrtDay;
    this.#random = random;
  }

  step(dtS: number): number {
    this.#value += this.#perSqrtDay * Math.sqrt((dtS * 1000) / DAY_MS) * this.#random.gauss();
    return this.#value;
  }
}

/** One sensor. It draws the same numbers with and without faults, so that they are its own again afterwards. */
export class ErringSensor {
  readonly #name: SensorName;
  readonly #plan: SensorPlan;
  readonly #startMs: number;
  readonly #random: RandomStream;
  readonly #quantiser: Quantiser;
  readonly #walk: OnGrid;
  #lastGood: number | undefined;

  /** Drift and random walk count from `startMs`. */
  constructor(
    name: SensorName,
    plan: SensorPlan,
    startMs: number,
    random: RandomStream,
    quantiser: Quantiser,
  ) {
    this.#name = name;
    this.#plan = plan;
    this.#startMs = startMs;
    this.#random = random;
    this.#quantiser = quantiser;
    this.#walk = new OnGrid(new RandomWalk(plan.walkPerSqrtDay, random), WALK_GRID_MS);
    // The walk begins here, not at the first reading.
    this.#walk.at(startMs);
  }

  /** The stored whole number for a true value in the sensor's unit; null from a silent sensor. */
  measure(value: number, atMs: number, faults: SensorFaults): number | null {
    const plan = this.#plan;
    const random = this.#random;
    const walk = this.#walk.at(atMs);
    const noise = plan.noise * random.gauss();
    const spikeShare = random.next();

    const drift = (plan.driftPerDay * (atMs - this.#startMs)) / DAY_MS;
    const sensed = value + plan.bias + drift + walk + noise;
    const good = this.#quantiser.of(sensed);
    if (faults === NO_SENSOR_FAULTS) {
      this.#lastGood = good;
      return good;
    }
    return this.#underFaults(sensed, good, spikeShare, faults);
  }

  #underFaults(sensed: number, good: number, spikeShare: number, faults: SensorFaults): number | null {
    const name = this.#name;
    if (faults.silent(name)) return null;
    if (faults.stuck(name)) {
      // Stuck from its first sample on, it holds that one.
      this.#lastGood ??= good;
      return this.#lastGood;
    }
    this.#lastGood = good;
    const spike = faults.spike(name);
    if (spike !== undefined && spikeShare * spike.share.den < spike.share.num) {
      return this.#quantiser.of(sensed + spike.by);
    }
    return good;
  }
}
