// A set of whole numbers kept as ranges. Emission numbers come nearly in order, so a tracker's
// whole life is one or two ranges in memory and a few characters in the journal.

/** A set of whole numbers ≥ 0. */
export class RangeSet {
  // Range k is #from[k] … #to[k], both included; ranges are sorted, apart, and never touch.
  readonly #from: number[] = [];
  readonly #to: number[] = [];
  #size = 0;

  /** How many numbers are in the set. */
  get size(): number {
    return this.#size;
  }

  /** How many ranges it takes to write them down. */
  get ranges(): number {
    return this.#from.length;
  }

  /** Puts `n` in; true when it wasn't there before. */
  add(n: number): boolean {
    const last = this.#to.length - 1;
    const end = this.#to[last];
    if (end !== undefined && n === end + 1) {
      this.#to[last] = n;
      this.#size += 1;
      return true;
    }
    if (end === undefined || n > end) {
      this.#from.push(n);
      this.#to.push(n);
      this.#size += 1;
      return true;
    }
    return this.#insert(n);
  }

  #insert(n: number): boolean {
    const k = this.#rangeAtOrAfter(n);
    const from = this.#from[k];
    if (from === undefined) throw new Error('a number past the last range is appended, not inserted');
    if (from <= n) return false;
    const before = k > 0 && this.#to[k - 1] === n - 1;
    const after = from === n + 1;
    if (before && after) {
      this.#to.splice(k - 1, 1);
      this.#from.splice(k, 1);
    } else if (before) this.#to[k - 1] = n;
    else if (after) this.#from[k] = n;
    else {
      this.#from.splice(k, 0, n);
      this.#to.splice(k, 0, n);
    }
    this.#size += 1;
    return true;
  }

  /** Index of the first range that ends at `n` or later. */
  #rangeAtOrAfter(n: number): number {
    let low = 0;
    let high = this.#to.length;
    while (low < high) {
      const middle = (low + high) >>> 1;
      if ((this.#to[middle] as number) < n) low = middle + 1;
      else high = middle;
    }
    return low;
  }

  has(n: number): boolean {
    const from = this.#from[this.#rangeAtOrAfter(n)];
    return from !== undefined && from <= n;
  }

  addAll(other: RangeSet): void {
    for (const n of other) this.add(n);
  }

  clear(): void {
    this.#from.length = 0;
    this.#to.length = 0;
    this.#size = 0;
  }

  *[Symbol.iterator](): Generator<number, void> {
    for (let k = 0; k < this.#from.length; k++) {
      const to = this.#to[k] as number;
      for (let n = this.#from[k] as number; n <= to; n++) yield n;
    }
  }

  /** `0-57,60`; empty text for the empty set. */
  toText(): string {
    let text = '';
    for (let k = 0; k < this.#from.length; k++) {
      const from = this.#from[k] as number;
      const to = this.#to[k] as number;
      text += `${k > 0 ? ',' : ''}${from}${to > from ? `-${to}` : ''}`;
    }
    return text;
  }

  /** The set written as `text`, or undefined where the text isn't one. */
  static parse(text: string): RangeSet | undefined {
    const set = new RangeSet();
    if (text === '') return set;
    for (const part of text.split(',')) {
      const match = /^(\d+)(?:-(\d+))?$/.exec(part);
      if (!match) return undefined;
      const from = Number(match[1]);
      const to = match[2] === undefined ? from : Number(match[2]);
      if (to < from || !Number.isSafeInteger(to)) return undefined;
      const last = set.#to.at(-1);
      // Strictly increasing and apart: what toText writes. One set has one text.
      if (last !== undefined && from <= last + 1) return undefined;
      set.#from.push(from);
      set.#to.push(to);
      set.#size += to - from + 1;
    }
    return set;
  }
}
