// What each flaw in the bytes of a file comes from.
import type { CsvFlawKind } from '../csv/flaws.ts';
import type { Cause } from '../verdict/verdict.ts';

type Known = Pick<Cause, 'name' | 'words'>;

const NOT_QUOTED: Known = {
  name: 'not-quoted',
  words:
    'Text was written without the quotes that it needs, or with quotes inside not doubled (RFC 4180 section 2): use a CSV writer.',
};

const BY_KIND: Readonly<Record<CsvFlawKind, Known>> = {
  'bare-quote': NOT_QUOTED,
  'text-after-quote': NOT_QUOTED,
  'unclosed-quote': NOT_QUOTED,
  'field-count': NOT_QUOTED,
  'wrong-line-end': {
    name: 'line-ends',
    words:
      'Lines end otherwise than promised: set the line end of the CSV writer, and transfer files as binary.',
  },
  'bad-utf8': {
    name: 'wrong-charset',
    words: 'Bytes are not UTF-8: the file was written in another encoding, such as ISO 8859-1.',
  },
  'nul-byte': {
    name: 'nul-byte',
    words: 'A NUL byte stands in the file: UTF-16, or padding of a fixed width.',
  },
  'byte-order-mark': {
    name: 'byte-order-mark',
    words: 'The byte order mark is not as promised: set the encoding of the writer with or without one.',
  },
  'empty-file': { name: 'empty-file', words: 'Nothing was written: the export failed without telling.' },
  'cut-row': {
    name: 'file-cut',
    words: 'The file ends inside a row: writing or transfer stopped before its end.',
  },
  'record-too-long': {
    name: 'not-quoted',
    words: 'A record never ends: a quote was opened and not closed.',
  },
};

const QUOTES: readonly CsvFlawKind[] = ['bare-quote', 'text-after-quote', 'unclosed-quote'];

/** How many records have each kind of flaw, and how many records there are. */
export interface FlawCounts {
  readonly kinds: ReadonlyMap<CsvFlawKind, number>;
  readonly records: number;
}

/** The cause of one kind of flaw, in the light of the others. */
export function causeOfFlaw(kind: CsvFlawKind, { kinds, records }: FlawCounts): Cause {
  const count = kinds.get(kind) ?? 0;
  const evidence = `${count} of ${records} records`;
  // Every data row one too many or too few is the form of the writer, not the text in a cell.
  if (kind === 'field-count' && records > 2 && count >= records - 1 && !kinds.has('bare-quote')) {
    return {
      name: 'trailing-delimiter',
      words:
        'Every row has another number of fields than the header: a delimiter ends each row, or a column has no name.',
      evidence,
      explains: 1,
      sure: 'likely',
    };
  }
  if (kind === 'bad-utf8' && kinds.has('nul-byte')) {
    return {
      name: 'wrong-charset',
      words: 'The file is UTF-16, not UTF-8.',
      evidence,
      explains: 1,
      sure: 'likely',
    };
  }
  const quotesWrong = QUOTES.some((wrong) => kinds.has(wrong));
  // A line break in a text that isn't quoted looks like the end of a line.
  if (kind === 'wrong-line-end' && count < records && (quotesWrong || kinds.has('field-count'))) {
    return { ...NOT_QUOTED, evidence, explains: 1, sure: 'likely' };
  }
  // A wrong number of fields alone may have other reasons; so may quotes where they are wrong in most rows.
  const inMost = QUOTES.some((wrong) => 2 * (kinds.get(wrong) ?? 0) > records);
  const doubtful = (kind === 'field-count' && !quotesWrong) || (BY_KIND[kind] === NOT_QUOTED && inMost);
  return { ...BY_KIND[kind], evidence, explains: 1, sure: doubtful ? 'likely' : 'certain' };
}
