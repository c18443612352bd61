// The CSV reader against RFC 4180 (October 2005), section 2, rule by rule, and its grammar;
// and beside two general-purpose readers where the three disagree.
import { Buffer } from 'node:buffer';
import { parse as csvParse } from 'csv-parse/sync';
import Papa from 'papaparse';
import { describe, expect, it } from 'vitest';
import { readCsv, RFC4180 } from '../../harness/csv/reader.ts';
import type { CsvRules } from '../../harness/csv/reader.ts';

interface Seen {
  cells: (readonly string[])[];
  quoted: (readonly boolean[])[];
  flaws: string[];
}

/** Flaws as `kind@record:line+byteOffset`. */
async function read(source: string | Uint8Array, rules: Partial<CsvRules> = {}): Promise<Seen> {
  const bytes = typeof source === 'string' ? Buffer.from(source) : source;
  const seen: Seen = { cells: [], quoted: [], flaws: [] };
  for await (const batch of readCsv(bytes, { ...RFC4180, ...rules })) {
    for (const record of batch.records) {
      seen.cells.push(record.cells);
      seen.quoted.push(record.quoted);
    }
    for (const f of batch.flaws) seen.flaws.push(`${f.kind}@${f.record}:${f.line}+${f.byteOffset}`);
  }
  return seen;
}

describe('RFC 4180 section 2', () => {
  it('rule 1: each record is on a line of its own, ended by CRLF', async () => {
    expect(await read('aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n')).toMatchObject({
      cells: [
        ['aaa', 'bbb', 'ccc'],
        ['zzz', 'yyy', 'xxx'],
      ],
      flaws: [],
    });
    expect((await read('a,b\n1,2\r\n')).flaws).toEqual(['wrong-line-end@1:1+3']);
    expect((await read('a,b\r1,2\r\n')).flaws).toEqual(['wrong-line-end@1:1+3']);
    expect((await read('a,b\r\n1,2\n', { lineEnd: 'lf' })).flaws).toEqual(['wrong-line-end@1:1+3']);
    expect((await read('a,b\r\n1,2\n', { lineEnd: 'either' })).flaws).toEqual([]);
  });

  it('rule 2: the last record may or may not end with a line end', async () => {
    const cells = [
      ['aaa', 'bbb', 'ccc'],
      ['zzz', 'yyy', 'xxx'],
    ];
    expect(await read('aaa,bbb,ccc\r\nzzz,yyy,xxx')).toMatchObject({ cells, flaws: [] });
    expect(await read('aaa,bbb,ccc\r\nzzz,yyy,')).toMatchObject({
      cells: [cells[0], ['zzz', 'yyy', '']],
      flaws: [],
    });
    // Fewer fields and no line end: the file was cut.
    expect(await read('aaa,bbb,ccc\r\nzzz,y')).toMatchObject({
      cells: [cells[0], ['zzz', 'y']],
      flaws: ['cut-row@2:2+13'],
    });
  });

  it('rule 3: a header is a record like the others; a file of a header alone is well formed', async () => {
    expect(await read('field_name,field_name\r\n')).toMatchObject({
      cells: [['field_name', 'field_name']],
      flaws: [],
    });
  });

  it('rule 4: every record has as many fields; spaces are part of a field; no trailing comma', async () => {
    expect(await read('a,b\r\n 1 , 2 \r\n')).toMatchObject({
      cells: [
        ['a', 'b'],
        [' 1 ', ' 2 '],
      ],
      flaws: [],
    });
    expect((await read('a,b\r\n1,2,\r\n')).flaws).toEqual(['field-count@2:2+5']);
    expect((await read('a,b\r\n1\r\n3,4\r\n')).flaws).toEqual(['field-count@2:2+5']);
    expect((await read('a,b\r\n\r\n3,4\r\n')).flaws).toEqual(['field-count@2:2+5']);
    // With one column, an empty line is a record of one empty field.
    expect(await read('a\r\n\r\n3\r\n')).toMatchObject({ cells: [['a'], [''], ['3']], flaws: [] });
  });

  it('rule 5: a field may be in quotes; a field that is not holds none', async () => {
    expect(await read('"aaa","bbb","ccc"\r\nzzz,"",\r\n')).toMatchObject({
      cells: [
        ['aaa', 'bbb', 'ccc'],
        ['zzz', '', ''],
      ],
      quoted: [
        [true, true, true],
        [false, true, false],
      ],
      flaws: [],
    });
    expect(await read('a,b\r\nx"y,2\r\n')).toMatchObject({
      cells: [
        ['a', 'b'],
        ['x"y', '2'],
      ],
      flaws: ['bare-quote@2:2+6'],
    });
    // A space before the quote makes the quote part of a field without quotes.
    expect((await read('a,b\r\n1, "2"\r\n')).flaws).toEqual(['bare-quote@2:2+8']);
    expect(await read('a,b\r\n"x"y,2\r\n')).toMatchObject({
      cells: [
        ['a', 'b'],
        ['xy', '2'],
      ],
      flaws: ['text-after-quote@2:2+8'],
    });
  });

  it('rule 6: line ends, quotes and commas stand in quotes', async () => {
    expect(await read('"aaa","b\r\nbb","c,cc"\r\nzzz,"y\ry","x\nx"\r\n')).toMatchObject({
      cells: [
        ['aaa', 'b\r\nbb', 'c,cc'],
        ['zzz', 'y\ry', 'x\nx'],
      ],
      flaws: [],
    });
    // The file ends inside the quotes: `line` and offset are of the record's start.
    expect(await read('a,b\r\n1,"2\r\n3,4\r\n')).toMatchObject({
      cells: [
        ['a', 'b'],
        ['1', '2\r\n3,4\r\n'],
      ],
      flaws: ['unclosed-quote@2:2+5'],
    });
    expect((await read('a,b\r\n"1\r\n')).flaws).toEqual(['unclosed-quote@2:2+5', 'cut-row@2:2+5']);
  });

  it('rule 7: a quote in a quoted field is doubled', async () => {
    expect(await read('"aaa","b""bb","ccc"\r\n"""","""""",""\r\n')).toMatchObject({
      cells: [
        ['aaa', 'b"bb', 'ccc'],
        ['"', '""', ''],
      ],
      flaws: [],
    });
  });
});

describe('beyond the grammar of RFC 4180, whose TEXTDATA is ASCII', () => {
  it('text is UTF-8 (RFC 3629): what is not is named by its byte', async () => {
    expect(await read('a,b\r\nÅ,😀\r\n')).toMatchObject({
      cells: [
        ['a', 'b'],
        ['Å', '😀'],
      ],
      flaws: [],
    });
    // RFC 3629 section 3: overlong C0 80, surrogate ED A0 80, and above U+10FFFF F4 90 80 80 are not UTF-8.
    for (const bad of [[0xc0, 0x80], [0xed, 0xa0, 0x80], [0xf4, 0x90, 0x80, 0x80], [0xe2, 0x82], [0x80]]) {
      const bytes = Buffer.concat([Buffer.from('a,b\r\né,x'), Buffer.from(bad), Buffer.from('\r\n')]);
      const seen = await read(bytes);
      expect(seen.flaws, String(bad)).toEqual(['bad-utf8@2:2+9']);
      expect(seen.cells[1]?.[1], String(bad)).toMatch(/^x\ufffd+$/);
    }
  });

  it('the byte order mark is as promised', async () => {
    const bytes = Buffer.from('\ufeffa,b\r\n');
    expect(await read(bytes)).toMatchObject({ cells: [['a', 'b']], flaws: ['byte-order-mark@0:1+0'] });
    expect(await read(bytes, { byteOrderMark: 'either' })).toMatchObject({ cells: [['a', 'b']], flaws: [] });
    expect((await read(bytes, { byteOrderMark: 'required' })).flaws).toEqual([]);
    expect((await read('a,b\r\n', { byteOrderMark: 'required' })).flaws).toEqual(['byte-order-mark@0:1+0']);
  });

  it('NUL is pointed at, and an empty file is one', async () => {
    expect((await read('a,b\r\n1,\0\r\n')).flaws).toEqual(['nul-byte@2:2+7']);
    expect((await read('')).flaws).toEqual(['empty-file@0:1+0']);
    expect((await read('\ufeff', { byteOrderMark: 'required' })).flaws).toEqual(['empty-file@0:1+3']);
    // Two bytes of a mark are text, and bad text.
    expect((await read(Buffer.from([0xef, 0xbb]))).flaws).toEqual(['bad-utf8@1:1+0']);
  });
});

/** What a reader says: the records, or the name of its error. */
type Says = string[][] | string;

function papaSays(text: string): Says {
  const { data, errors } = Papa.parse<string[]>(text, { delimiter: ',' });
  return errors.length > 0 ? errors.map((e) => e.code).join(' ') : data;
}

function csvParseSays(text: string): Says {
  try {
    return csvParse(Buffer.from(text));
  } catch (error) {
    return (error as { code: string }).code;
  }
}

describe('where readers disagree (papaparse 5 and csv-parse 7, defaults, delimiter given)', () => {
  const H = ['a', 'b'];
  const table: { name: string; text: string; ours: string[]; papa: Says; csvParse: Says }[] = [
    {
      name: 'a quote inside a cell without quotes',
      text: 'a,b\r\nx"y,2\r\n',
      ours: ['bare-quote'],
      papa: [H, ['x"y', '2'], ['']],
      csvParse: 'INVALID_OPENING_QUOTE',
    },
    {
      name: 'text after a closing quote',
      text: 'a,b\r\n"x"y,2\r\n',
      ours: ['text-after-quote'],
      papa: 'InvalidQuotes MissingQuotes',
      csvParse: 'CSV_INVALID_CLOSING_QUOTE',
    },
    {
      name: 'CR alone as line end',
      text: 'a,b\r1,2\r',
      ours: ['wrong-line-end', 'wrong-line-end'],
      papa: [H, ['1', '2'], ['']],
      csvParse: [H, ['1', '2']],
    },
    {
      name: 'CR alone inside a cell',
      text: 'a,b\r\nx\ry,2\r\n',
      ours: ['wrong-line-end', 'field-count'],
      papa: [H, ['x\ry', '2'], ['']],
      csvParse: [H, ['x\ry', '2']],
    },
    {
      name: 'LF among CRLF',
      text: 'a,b\r\n1,2\n3,4\r\n',
      ours: ['wrong-line-end'],
      papa: [H, ['1', '2\n3', '4'], ['']],
      csvParse: 'CSV_RECORD_INCONSISTENT_FIELDS_LENGTH',
    },
    {
      name: 'a missing last field',
      text: 'a,b\r\n1\r\n',
      ours: ['field-count'],
      papa: [H, ['1'], ['']],
      csvParse: 'CSV_RECORD_INCONSISTENT_FIELDS_LENGTH',
    },
    {
      name: 'a byte order mark that is not promised',
      text: '\ufeffa,b\r\n1,2\r\n',
      ours: ['byte-order-mark'],
      papa: [H, ['1', '2'], ['']],
      csvParse: [
        ['\ufeffa', 'b'],
        ['1', '2'],
      ],
    },
    {
      name: 'a quote that is never closed',
      text: 'a,b\r\n1,"2\r\n',
      ours: ['unclosed-quote'],
      papa: 'MissingQuotes',
      csvParse: 'CSV_QUOTE_NOT_CLOSED',
    },
    {
      name: 'a well-formed file',
      text: 'a,b\r\n1,2\r\n',
      ours: [],
      papa: [H, ['1', '2'], ['']],
      csvParse: [H, ['1', '2']],
    },
  ];

  it.each(table)('$name', async ({ text, ours, papa, csvParse: other }) => {
    expect((await read(text)).flaws.map((f) => f.slice(0, f.indexOf('@')))).toEqual(ours);
    expect(papaSays(text)).toEqual(papa);
    expect(csvParseSays(text)).toEqual(other);
  });
});
