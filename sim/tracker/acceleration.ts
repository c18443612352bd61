// Peak acceleration since the reading before: vibration while moving, and now and then a shock.
// Both peaks are drawn from the distribution of the greatest of many, one number each, however long the interval.
import type { RandomStream } from '../random.ts';
import type { MotionState } from './motion-state.ts';

/** Vibration of a light vehicle, m/s2 rms: standing with the motor on, and per m/s (common practice; tune). */
const VIBRATION_MPS2 = 0.15;
const VIBRATION_PER_MPS = 0.05;
/** Independent peaks a second. */
const VIBRATION_HZ = 10;
/** A shock is at least this, m/s2, and exponentially distributed beyond (common practice; tune). */
export const LEAST_SHOCK_MPS2 = 10;
export const MEAN_EXCESS_MPS2 = 12;

/** The true peaks. Draws two numbers a call, always. */
export class Acceleration {
  readonly #shocksPerHour: number;
  readonly #vibration: RandomStream;
  readonly #shocks: RandomStream;
  #lastMs: number;
  // Logarithm and exponential of the step before: trackers report at even intervals.
  #dtMs = -1;
  #peakFactor = 0;
  #expectedShocks = 0;
  #noShock = 1;

  constructor(shocksPerHour: number, startMs: number, streamFor: (name: string) => RandomStream) {
    this.#shocksPerHour = shocksPerHour;
    this.#lastMs = startMs;
    this.#vibration = streamFor('vibration');
    this.#shocks = streamFor('shocks');
  }

  /** Peak beyond gravity, m/s2, between the call before and now; 0 at rest. */
  peakMps2(atMs: number, truth: MotionState): number {
    const dtMs = atMs - this.#lastMs;
    this.#lastMs = atMs;
    if (dtMs !== this.#dtMs) this.#prepare(dtMs);
    const vibrationShare = this.#vibration.next();
    const shockShare = this.#shocks.next();
    if (!truth.moving || dtMs <= 0) return 0;
    const vibration = this.#vibrationPeak(vibrationShare, truth.speedMps);
    return shockShare < this.#noShock ? vibration : Math.max(vibration, this.#shockPeak(shockShare));
  }

  #prepare(dtMs: number): void {
    this.#dtMs = dtMs;
    const peaks = Math.max((dtMs / 1000) * VIBRATION_HZ, 2);
    this.#peakFactor = Math.sqrt(2 * Math.log(peaks));
    this.#expectedShocks = (this.#shocksPerHour * dtMs) / 3_600_000;
    this.#noShock = Math.exp(-this.#expectedShocks);
  }

  /** Greatest of many normal peaks: Gumbel, with the peak factor sqrt(2 ln n) (Davenport 1964). */
  #vibrationPeak(share: number, speedMps: number): number {
    const sigma = VIBRATION_MPS2 + VIBRATION_PER_MPS * speedMps;
    const gumbel = -Math.log(-Math.log(share));
    return Math.max(0, sigma * (this.#peakFactor + gumbel / this.#peakFactor));
  }

  /** Greatest of a Poisson count of shocks: P(greatest <= x) = exp(-expected x P(one shock > x)), inverted. */
  #shockPeak(share: number): number {
    return LEAST_SHOCK_MPS2 - MEAN_EXCESS_MPS2 * Math.log(-Math.log(share) / this.#expectedShocks);
  }
}
