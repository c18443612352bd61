// How long acknowledgements took, in constant memory: counts in buckets that grow by an eighth of an octave.

const STEPS_PER_OCTAVE = 8;
/** Bucket 0 holds everything below 1/64 ms; the last starts at about a day. */
const LOWEST_MS = 1 / 64;
const BUCKETS = 1 + 33 * STEPS_PER_OCTAVE;

export interface DelaySummary {
  readonly count: number;
  readonly minMs: number;
  readonly meanMs: number;
  readonly maxMs: number;
  readonly p50Ms: number;
  readonly p90Ms: number;
  readonly p99Ms: number;
}

/** Quantiles are right to one bucket, 9 %; minimum, mean and maximum are exact. */
export class DelayHistogram {
  readonly #counts = new Float64Array(BUCKETS);
  #count = 0;
  #sumMs = 0;
  #minMs = Number.POSITIVE_INFINITY;
  #maxMs = 0;

  record(delayMs: number): void {
    const ms = delayMs > 0 ? delayMs : 0;
    this.#count += 1;
    this.#sumMs += ms;
    if (ms < this.#minMs) this.#minMs = ms;
    if (ms > this.#maxMs) this.#maxMs = ms;
    const bucket =
      ms < LOWEST_MS
        ? 0
        : Math.min(BUCKETS - 1, 1 + Math.floor(Math.log2(ms / LOWEST_MS) * STEPS_PER_OCTAVE));
    this.#counts[bucket] = (this.#counts[bucket] ?? 0) + 1;
  }

  /** The delay that a share `q` (0 … 1) of all stayed at or below; 0 when nothing was recorded. */
  quantileMs(q: number): number {
    const rank = Math.max(1, Math.ceil(q * this.#count));
    let seen = 0;
    for (let bucket = 0; bucket < BUCKETS; bucket++) {
      seen += this.#counts[bucket] ?? 0;
      if (seen >= rank) {
        const upper = LOWEST_MS * 2 ** (bucket / STEPS_PER_OCTAVE);
        return Math.min(Math.max(upper, this.#minMs), this.#maxMs);
      }
    }
    return 0;
  }

  summary(): DelaySummary {
    return {
      count: this.#count,
      minMs: this.#count === 0 ? 0 : round(this.#minMs),
      meanMs: this.#count === 0 ? 0 : round(this.#sumMs / this.#count),
      maxMs: round(this.#maxMs),
      p50Ms: round(this.quantileMs(0.5)),
      p90Ms: round(this.quantileMs(0.9)),
      p99Ms: round(this.quantileMs(0.99)),
    };
  }
}

function round(ms: number): number {
  return Math.round(ms * 1000) / 1000;
}
