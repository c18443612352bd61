// Store and forward: readings wait here, bounded, until there is a link.
import type { Reading } from '../reading.ts';
import type { BufferPlan } from '../scenario/scenario.ts';

/** The tracker's buffer. Nothing is lost but what `push` or `loseAll` hands back. */
export class ReadingBuffer {
  readonly #plan: BufferPlan;
  #held: Reading[] = [];
  /** Index of the oldest in `#held`. Once the buffer is full, the oldest's place is used again for the newest. */
  #oldest = 0;

  constructor(plan: BufferPlan) {
    this.#plan = plan;
  }

  /** Number of readings held: 0 … plan.holds. */
  get size(): number {
    return this.#held.length;
  }

  /** Takes a reading in. Returns the one dropped for want of room, by the plan's policy. */
  push(reading: Reading): Reading | undefined {
    if (this.#held.length < this.#plan.holds) {
      this.#held.push(reading);
      return undefined;
    }
    const dropped = this.#held[this.#oldest];
    if (this.#plan.whenFull === 'drop-newest' || dropped === undefined) return reading;
    this.#held[this.#oldest] = reading;
    this.#oldest = (this.#oldest + 1) % this.#held.length;
    return dropped;
  }

  /** Empties the buffer into batches of at most plan.batchOf, in flush order between and inside batches. */
  takeBatches(): Reading[][] {
    const readings = this.loseAll();
    if (readings.length <= 1) return readings.length === 0 ? [] : [readings];
    if (this.#plan.flush === 'newest-first') readings.reverse();
    const batches: Reading[][] = [];
    for (let from = 0; from < readings.length; from += this.#plan.batchOf) {
      batches.push(readings.slice(from, from + this.#plan.batchOf));
    }
    return batches;
  }

  /** Empties the buffer and returns what it held, oldest first. */
  loseAll(): Reading[] {
    const held = this.#held;
    const inOrder = this.#oldest === 0 ? held : [...held.slice(this.#oldest), ...held.slice(0, this.#oldest)];
    this.#held = [];
    this.#oldest = 0;
    return inOrder;
  }
}
