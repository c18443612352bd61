// Gathers broken instances of one kind without keeping them all: the count is exact, the examples are the first few.
import type { Cause, Example, Finding, Hop } from './verdict.ts';

const EXAMPLES_KEPT = 5;

export class Collector {
  readonly #what: string;
  readonly #hop: Hop;
  readonly #examples: Example[] = [];
  readonly #trackers = new Set<string>();
  #count = 0;

  constructor(what: string, hop: Hop) {
    this.#what = what;
    this.#hop = hop;
  }

  get count(): number {
    return this.#count;
  }

  /** `example` is only asked for while examples are still kept. */
  add(tracker: string | undefined, example: () => Example): void {
    this.#count += 1;
    if (tracker !== undefined) this.#trackers.add(tracker);
    if (this.#examples.length < EXAMPLES_KEPT) this.#examples.push(example());
  }

  /** Empty where nothing was broken. */
  findings(cause: Cause | null = null): Finding[] {
    if (this.#count === 0) return [];
    return [
      {
        what: this.#what,
        cause,
        hop: this.#hop,
        count: this.#count,
        trackers: this.#trackers.size,
        examples: this.#examples,
      },
    ];
  }
}
