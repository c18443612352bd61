// Collects every mistake of one document, so that all are told at once.
import { BadInput, badInputLine, type Place } from '../errors.ts';
import type { SourceDocument } from './document.ts';

/** Most mistakes noted and told: past this a file is beyond mending line by line. */
const MOST_TOLD = 100;

interface Mistake {
  readonly pointer: string;
  readonly place: Place;
  readonly text: string;
}

export class Mistakes {
  readonly #document: SourceDocument;
  readonly #found: Mistake[] = [];
  readonly #elsewhere: string[] = [];

  constructor(document: SourceDocument) {
    this.#document = document;
  }

  /** Notes a mistake in the value at `pointer`. */
  add(pointer: string, expected: string, found: string, mend: string): void {
    if (!this.full) this.#note(pointer, this.#document.placeOf(pointer), expected, found, mend);
  }

  /** Notes a mistake in the key at `pointer`. */
  addKey(pointer: string, expected: string, found: string, mend: string): void {
    if (!this.full) this.#note(pointer, this.#document.placeOfKey(pointer), expected, found, mend);
  }

  #note(pointer: string, place: Place, expected: string, found: string, mend: string): void {
    this.#found.push({ pointer, place, text: badInputLine(place, expected, found, mend) });
  }

  /** Whether no further mistake is noted. */
  get full(): boolean {
    return this.#found.length >= MOST_TOLD;
  }

  /** Takes over the mistakes of another file that this one names; they are told last. */
  include({ message, also }: BadInput): void {
    this.#elsewhere.push(message, ...also);
  }

  /** Whether a mistake was noted in the value at `pointer` or anywhere inside it. */
  within(pointer: string): boolean {
    return this.#found.some((m) => m.pointer === pointer || m.pointer.startsWith(`${pointer}/`));
  }

  /** @throws BadInput with all mistakes in the order of the file, if there are any. */
  throwIfAny(): void {
    if (this.#found.length + this.#elsewhere.length === 0) return;
    const lines = this.#found
      .toSorted(
        (a, b) => (a.place.line ?? 0) - (b.place.line ?? 0) || (a.place.column ?? 0) - (b.place.column ?? 0),
      )
      .map((m) => m.text);
    const [first = '', ...rest] = new Set([...lines, ...this.#elsewhere]);
    if (this.full) rest.push(`${this.#document.file}: only the first ${MOST_TOLD} mistakes are told.`);
    throw new BadInput(first, rest);
  }
}
