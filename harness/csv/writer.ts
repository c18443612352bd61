// Writes RFC 4180 records.

export interface CsvStyle {
  /** One ASCII character, neither a quote nor a line end. */
  readonly delimiter: string;
  readonly lineEnd: 'crlf' | 'lf' | 'either';
}

const LINE_ENDS = { crlf: '\r\n', lf: '\n', either: '\r\n' } as const;

/** A cell, in quotes whatever it holds. */
export function quotedCell(text: string): string {
  return `"${text.includes('"') ? text.replaceAll('"', '""') : text}"`;
}

/** A cell, in quotes only where it has to be. Lone surrogates have no UTF-8 form: the encoder makes them U+FFFD. */
export function csvCell(text: string, delimiter: string): string {
  // U+FEFF at the front would read as a byte order mark if the cell were the file's first.
  return text.includes('"') ||
    text.includes(delimiter) ||
    text.includes('\n') ||
    text.includes('\r') ||
    text.charCodeAt(0) === 0xfeff
    ? quotedCell(text)
    : text;
}

/** Joins cells that csvCell or quotedCell made. */
export function csvLine(cells: readonly string[], style: CsvStyle): string {
  // A record of one empty cell would be an empty line, which many readers skip.
  const line = cells.length === 1 && cells[0] === '' ? '""' : cells.join(style.delimiter);
  return line + LINE_ENDS[style.lineEnd];
}

/** One record from plain text cells. */
export function csvRecord(cells: readonly string[], style: CsvStyle): string {
  return csvLine(
    cells.map((cell) => csvCell(cell, style.delimiter)),
    style,
  );
}
