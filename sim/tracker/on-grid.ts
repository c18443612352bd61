// A process too slow to be worth a draw at every reading: drawn on an even grid of time, straight in between.
// Where readings are closer than the grid it is a function of time alone, whatever the times of the readings.

/** A random process that is moved on by steps. */
export interface Stepper {
  /** The value `dtS` seconds after the value before. */
  step(dtS: number): number;
}

/**
 * Halfway between two points the straight line keeps (1 + phi) / 2 of a Gauss-Markov variance:
 * 99.2 % on a grid of 1/60 of the correlation time.
 */
export class OnGrid {
  readonly #process: Stepper;
  readonly #gridMs: number;
  #before = 0;
  #slopePerMs = 0;
  #beforeMs = Number.NaN;
  #afterMs = -Infinity;

  constructor(process: Stepper, gridMs: number) {
    this.#process = process;
    this.#gridMs = gridMs;
  }

  /** The value at a time, ms, not before the time asked last. */
  at(atMs: number): number {
    if (atMs >= this.#afterMs) this.#moveTo(atMs);
    return this.#before + this.#slopePerMs * (atMs - this.#beforeMs);
  }

  #moveTo(atMs: number): void {
    const gridMs = this.#gridMs;
    const beforeMs = Math.floor(atMs / gridMs) * gridMs;
    // The point after the old pair is the point before the new one, unless readings are further apart than the grid.
    if (beforeMs === this.#afterMs) this.#before += this.#slopePerMs * gridMs;
    else if (this.#afterMs === -Infinity) this.#before = this.#process.step(0);
    else this.#before = this.#process.step((beforeMs - this.#afterMs) / 1000);
    this.#slopePerMs = (this.#process.step(gridMs / 1000) - this.#before) / gridMs;
    this.#beforeMs = beforeMs;
    this.#afterMs = beforeMs + gridMs;
  }
}
