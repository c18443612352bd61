// Outages in bursts: the two-state chain of Gilbert (1960) and Elliott (1963), no loss in `good`, all lost in `bad`.
import type { RandomStream } from '../random.ts';
import type { OutagePlan, Ratio } from '../scenario/scenario.ts';

/**
 * The chain, asked by time. The state holds for a whole step of `plan.stepMs`.
 * Stays are drawn whole (they are geometric), so a quiet hour costs nothing,
 * and the chain's path doesn't depend on when it is asked.
 */
export class GilbertElliott {
  readonly #plan: OutagePlan;
  readonly #random: RandomStream;
  #bad: boolean;
  #untilMs: number;

  /** Starts from the stationary distribution: P(bad) = p / (p + r), p = toBad, r = toGood. */
  constructor(plan: OutagePlan, startMs: number, random: RandomStream) {
    this.#plan = plan;
    this.#random = random;
    const { toBad, toGood } = plan;
    const badWeight = toBad.num * toGood.den;
    this.#bad = random.chance(badWeight, badWeight + toGood.num * toBad.den);
    this.#untilMs = startMs + this.#stayMs();
  }

  /** Whether the step around `atMs` is bad. `atMs` never goes back. */
  isBad(atMs: number): boolean {
    while (atMs >= this.#untilMs) {
      this.#bad = !this.#bad;
      this.#untilMs += this.#stayMs();
    }
    return this.#bad;
  }

  #stayMs(): number {
    return staySteps(this.#bad ? this.#plan.toGood : this.#plan.toBad, this.#random) * this.#plan.stepMs;
  }
}

/** Steps until a change that has this chance in each step: 1, 2, … (geometric, by inversion), or infinitely many. */
function staySteps(change: Ratio, random: RandomStream): number {
  if (change.num <= 0) return Number.POSITIVE_INFINITY;
  if (change.num >= change.den) return 1;
  const stay = (change.den - change.num) / change.den;
  return 1 + Math.floor(Math.log(1 - random.next()) / Math.log(stay));
}
