// Gathers broken instances of one kind like a Collector, and says why they broke: one finding for each cause.
import type { Example, Finding, Hop } from '../verdict/verdict.ts';
import { diagnose, type Hypothesis } from './hypothesis.ts';
import { Sample } from './sample.ts';

const BROKEN_KEPT = 4000;
const SOUND_KEPT = 2000;
const EXAMPLES_KEPT = 5;

interface Kept<T> {
  readonly instance: T;
  readonly tracker: string | undefined;
  readonly example: Example;
}

export class CausedCollector<T> {
  readonly #what: string;
  readonly #hop: Hop;
  readonly #hypotheses: readonly Hypothesis<T>[];
  readonly #broken = new Sample<Kept<T>>(BROKEN_KEPT);
  readonly #sound = new Sample<T>(SOUND_KEPT);

  /** `hop` is told where no cause fits. */
  constructor(what: string, hop: Hop, hypotheses: readonly Hypothesis<T>[]) {
    this.#what = what;
    this.#hop = hop;
    this.#hypotheses = hypotheses;
  }

  get count(): number {
    return this.#broken.seen;
  }

  /** `make` is only asked while instances are still kept. */
  add(tracker: string | undefined, make: () => { readonly instance: T; readonly example: Example }): void {
    if (this.#broken.wants()) this.#broken.add({ tracker, ...make() });
    else this.#broken.skip();
  }

  /** A sound instance, for contrast. */
  sound(make: () => T): void {
    if (this.#sound.wants()) this.#sound.add(make());
    else this.#sound.skip();
  }

  /** Empty where nothing broke. Counts are exact until the sample is full, and then in proportion to it. */
  findings(sound: readonly T[] = this.#sound.items): Finding[] {
    const kept = this.#broken.items;
    if (kept.length === 0) return [];
    const { causes, unexplained } = diagnose(
      this.#hypotheses,
      kept.map(({ instance }) => instance),
      sound,
    );
    const findings = causes.map(({ cause, hop, instances }) => ({
      ...this.#finding(new Set(instances)),
      cause,
      hop,
    }));
    if (unexplained.length === 0) return findings;
    return [...findings, { ...this.#finding(new Set(unexplained)), cause: null, hop: this.#hop }];
  }

  #finding(instances: ReadonlySet<T>): Omit<Finding, 'cause' | 'hop'> {
    const kept = this.#broken.items.filter(({ instance }) => instances.has(instance));
    const trackers = new Set(kept.flatMap(({ tracker }) => (tracker === undefined ? [] : [tracker])));
    return {
      what: this.#what,
      count: Math.round((this.#broken.seen * kept.length) / this.#broken.items.length),
      trackers: trackers.size,
      examples: kept.slice(0, EXAMPLES_KEPT).map(({ example }) => example),
    };
  }
}
