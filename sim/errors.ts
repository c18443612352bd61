// Two classes of trouble, told apart by the exit code: input the user can mend (2),
// and work that couldn't be completed (3). Neither is ever reported as held.

/** Where in a file the trouble is. Line and column count from 1. */
export interface Place {
  readonly file: string;
  readonly line?: number;
  readonly column?: number;
  /** JSON pointer (RFC 6901) of the value. */
  readonly pointer?: string;
}

/** Input the user can mend. `message` is one line: where, what was expected, what was found, how to mend it. */
export class BadInput extends Error {
  override readonly name = 'BadInput';
  /** Further lines of the same kind, when several mistakes were found in one reading. */
  readonly also: readonly string[];

  constructor(message: string, also: readonly string[] = []) {
    super(message);
    this.also = also;
  }

  /** `file:line:column: /pointer: expected …, found …. Mend: …` */
  static at(place: Place, expected: string, found: string, mend: string): BadInput {
    return new BadInput(badInputLine(place, expected, found, mend));
  }
}

/** The one line that a BadInput shows. */
export function badInputLine(place: Place, expected: string, found: string, mend: string): string {
  const line = place.line === undefined ? '' : `:${place.line}`;
  const column = place.column === undefined ? '' : `:${place.column}`;
  const pointer =
    place.pointer === undefined ? '' : `${place.pointer === '' ? '(whole file)' : place.pointer}: `;
  return `${place.file}${line}${column}: ${pointer}expected ${expected}, found ${found}. Mend: ${mend}.`;
}

/** Work that couldn't be completed: a port in use, a full disk, a broker that went away. Exit code 3. */
export class NotCompleted extends Error {
  override readonly name = 'NotCompleted';
}
