// What is read from a CSV file, what is promised of its bytes, and what can be wrong with them.
// A flaw is data: the reader notes it and goes on. It notes each kind once in a record.

export type CsvFlawKind =
  /** A quote inside a cell that didn't begin with one (RFC 4180 section 2, rule 5). */
  | 'bare-quote'
  /** Text between a closing quote and the next delimiter (rule 5). */
  | 'text-after-quote'
  /** The file ends inside a quoted cell. */
  | 'unclosed-quote'
  /** A line end other than the one promised, or a lone CR (rule 1). */
  | 'wrong-line-end'
  /** Another number of fields than the first record has (rule 4). */
  | 'field-count'
  /** Bytes that aren't UTF-8 (RFC 3629); they are read as U+FFFD. */
  | 'bad-utf8'
  | 'nul-byte'
  /** A byte order mark where none is promised, or none where one is. */
  | 'byte-order-mark'
  /** No bytes at all (after a byte order mark). */
  | 'empty-file'
  /** The file ends inside a row: fewer fields than the first record has, and no line end. */
  | 'cut-row'
  /** One record above the size limit. Reading stops there: what follows can't be trusted. */
  | 'record-too-long';

export interface CsvFlaw {
  readonly kind: CsvFlawKind;
  /** Number of the record, from 1 (the header, where there is one, is record 1); 0 = the file as a whole. */
  readonly record: number;
  /** Where in the file, from 0. */
  readonly byteOffset: number;
  /** Line, from 1; see CsvRecord.line. */
  readonly line: number;
  /** What was found and what the rule is, in one clause. */
  readonly words: string;
}

export interface CsvRules {
  /** One ASCII character, neither a quote nor a line end. */
  readonly delimiter: string;
  /** `either`: each line may end in CRLF or LF. */
  readonly lineEnd: 'crlf' | 'lf' | 'either';
  readonly byteOrderMark: 'none' | 'required' | 'either';
}

/** RFC 4180 as written: comma, CRLF, no byte order mark. */
export const RFC4180: CsvRules = { delimiter: ',', lineEnd: 'crlf', byteOrderMark: 'none' };

export interface CsvRecord {
  /** From 1; the header, where there is one, is record 1. */
  readonly record: number;
  /** Where the record begins in the file, from 0. */
  readonly byteOffset: number;
  /** Line the record begins on, from 1. LF ends a line anywhere; a lone CR does so outside quotes. */
  readonly line: number;
  readonly cells: readonly string[];
  /** Whether cell i was written in quotes; tells `""` from nothing. Shared between records without quotes. */
  readonly quoted: readonly boolean[];
}

/** Some records in file order, and the flaws found in them. */
export interface CsvBatch {
  readonly records: readonly CsvRecord[];
  readonly flaws: readonly CsvFlaw[];
}
