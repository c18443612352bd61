// First-order Gauss-Markov process (Ornstein-Uhlenbeck): chance with a memory.
// Discretised exactly, so that its statistics don't depend on the step:
//   x(t + dt) = phi x(t) + sigma sqrt(1 - phi^2) e,  phi = exp(-dt / T),  x(0) ~ N(0, sigma^2)
import type { RandomStream } from '../random.ts';

/** Mean 0, variance sigma^2, autocorrelation exp(-lag / correlationS). Starts from its stationary distribution. */
export class GaussMarkov {
  readonly #sigma: number;
  readonly #correlationS: number;
  readonly #random: RandomStream;
  #value: number;
  // NaN before the first call: a field that is always a number is updated in place, undefined would box it.
  #lastMs = Number.NaN;
  // exp() and sqrt() of the step before: trackers report at even intervals.
  #dtS = 0;
  #phi = 1;
  #kick = 0;

  /** `sigma` in the unit of the value; `correlationS` 0 makes white noise. */
  constructor(sigma: number, correlationS: number, random: RandomStream) {
    this.#sigma = sigma;
    this.#correlationS = correlationS;
    this.#random = random;
    this.#value = sigma * random.gauss();
  }

  /** The value `dtS` seconds (0 or more) after the value before. Draws one normal number, always. */
  step(dtS: number): number {
    if (dtS !== this.#dtS) {
      this.#dtS = dtS;
      // dtS 0 apart: 0/0 would make a process without memory NaN.
      this.#phi = dtS > 0 ? Math.exp(-dtS / this.#correlationS) : 1;
      this.#kick = this.#sigma * Math.sqrt(1 - this.#phi * this.#phi);
    }
    this.#value = this.#phi * this.#value + this.#kick * this.#random.gauss();
    return this.#value;
  }

  /** The value at a time, ms, not before the time asked last. */
  at(atMs: number): number {
    const dtS = (atMs - this.#lastMs) / 1000;
    this.#lastMs = atMs;
    return this.step(dtS > 0 ? dtS : 0);
  }
}
