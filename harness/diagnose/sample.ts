// An even sample of a stream of unknown length, without chance: every k-th item, k doubling as the stream grows.

export class Sample<T> {
  readonly #most: number;
  #items: T[] = [];
  #every = 1;
  #seen = 0;

  /** Keeps between half of `most` and `most` items once the stream is that long; all of them before. */
  constructor(most: number) {
    this.#most = most;
  }

  add(item: T): void {
    if (this.wants()) this.#items.push(item);
    this.#seen += 1;
    if (this.#items.length <= this.#most) return;
    this.#items = this.#items.filter((_, k) => k % 2 === 0);
    this.#every *= 2;
  }

  /** Whether the next item will be kept; saves making one that won't. */
  wants(): boolean {
    return this.#seen % this.#every === 0;
  }

  /** Counts an item that `wants` said no to. */
  skip(): void {
    this.#seen += 1;
  }

  get items(): readonly T[] {
    return this.#items;
  }

  /** How many items one of the sample stands for. */
  get every(): number {
    return this.#every;
  }

  get seen(): number {
    return this.#seen;
  }
}
