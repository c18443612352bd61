// A binary min-heap of whole numbers under a caller's order: just what merging needs.

export class Heap {
  readonly #items: number[] = [];
  readonly #before: (a: number, b: number) => boolean;

  constructor(before: (a: number, b: number) => boolean) {
    this.#before = before;
  }

  get size(): number {
    return this.#items.length;
  }

  /** The least item, left in place; undefined when empty. */
  peek(): number | undefined {
    return this.#items[0];
  }

  push(item: number): void {
    let at = this.#items.length;
    this.#items.push(item);
    while (at > 0) {
      const up = (at - 1) >> 1;
      const parent = this.#items[up] as number;
      if (!this.#before(item, parent)) break;
      this.#items[at] = parent;
      at = up;
    }
    this.#items[at] = item;
  }

  /** Takes the least item out; undefined when empty. */
  pop(): number | undefined {
    const least = this.#items[0];
    const last = this.#items.pop();
    if (last !== undefined && this.#items.length > 0) this.#place(last);
    return least;
  }

  /** Tells the heap that the least item's key has grown. */
  sinkTop(): void {
    const top = this.#items[0];
    if (top !== undefined) this.#place(top);
  }

  /** Puts an item at the top and lets it sink to where it belongs. */
  #place(item: number): void {
    const items = this.#items;
    let at = 0;
    for (;;) {
      let child = 2 * at + 1;
      if (child >= items.length) break;
      if (child + 1 < items.length && this.#before(items[child + 1] as number, items[child] as number))
        child += 1;
      const least = items[child] as number;
      if (!this.#before(least, item)) break;
      items[at] = least;
      at = child;
    }
    items[at] = item;
  }
}
