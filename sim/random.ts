// Named random streams: the only source of chance in wayproof.
// A stream's numbers depend on the scenario seed and its own name alone, so
// adding a tracker or a sensor never shifts another's numbers.
import seedrandom from 'seedrandom';

/** One reproducible stream of numbers. */
export interface RandomStream {
  /** Uniform in [0, 1). */
  next(): number;
  /** Standard normal (mean 0, variance 1), by the polar method of Marsaglia and Bray (1964). */
  gauss(): number;
  /** Uniform integer in [0, n). */
  below(n: number): number;
  /** True with probability num/den; a ratio of integers, so that no rounding decides. */
  chance(num: number, den: number): boolean;
}

/** The stream called `names` under `seed`. Same arguments, same numbers, always. */
export function randomStream(seed: string, ...names: readonly (string | number)[]): RandomStream {
  // JSON keeps the parts apart: ('a', 'bc') and ('ab', 'c') are different streams.
  return new AleaStream(JSON.stringify([seed, ...names]));
}

class AleaStream implements RandomStream {
  readonly next: () => number;
  #spare: number | undefined;

  constructor(name: string) {
    this.next = seedrandom.alea(name);
  }

  gauss(): number {
    if (this.#spare !== undefined) {
      const value = this.#spare;
      this.#spare = undefined;
      return value;
    }
    for (;;) {
      const u = 2 * this.next() - 1;
      const v = 2 * this.next() - 1;
      const s = u * u + v * v;
      if (s > 0 && s < 1) {
        const scale = Math.sqrt((-2 * Math.log(s)) / s);
        this.#spare = v * scale;
        return u * scale;
      }
    }
  }

  below(n: number): number {
    return Math.floor(this.next() * n);
  }

  chance(num: number, den: number): boolean {
    return this.next() * den < num;
  }
}
