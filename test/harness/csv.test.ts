// Laws of the CSV reader and writer.
import { Buffer } from 'node:buffer';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import * as fc from 'fast-check';
import { parse as csvParse } from 'csv-parse/sync';
import Papa from 'papaparse';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { MAX_RECORD_BYTES, readCsv, RFC4180 } from '../../harness/csv/reader.ts';
import type { CsvFlaw, CsvRecord, CsvRules } from '../../harness/csv/reader.ts';
import { CsvScanner } from '../../harness/csv/scanner.ts';
import { csvRecord } from '../../harness/csv/writer.ts';
import { BadInput } from '../../sim/errors.ts';

interface Read {
  records: CsvRecord[];
  flaws: CsvFlaw[];
}

async function readAll(source: string | Uint8Array, rules: CsvRules = RFC4180): Promise<Read> {
  const all: Read = { records: [], flaws: [] };
  for await (const batch of readCsv(source, rules)) {
    all.records.push(...batch.records);
    all.flaws.push(...batch.flaws);
  }
  return all;
}

/** Reads bytes cut at the given places. */
function readCut(bytes: Buffer, cuts: readonly number[], rules: CsvRules = RFC4180): Read {
  const scanner = new CsvScanner(rules, MAX_RECORD_BYTES);
  const all: Read = { records: [], flaws: [] };
  let from = 0;
  for (const to of [...cuts, bytes.length]) {
    const batch = scanner.push(Buffer.from(bytes.subarray(from, to)));
    all.records.push(...batch.records);
    all.flaws.push(...batch.flaws);
    from = to;
  }
  const last = scanner.finish();
  all.records.push(...last.records);
  all.flaws.push(...last.flaws);
  return all;
}

const cellText = fc.oneof(
  fc.string({ unit: 'binary', maxLength: 12 }),
  fc
    .array(
      fc.constantFrom(
        '"',
        '""',
        ',',
        ';',
        '\r\n',
        '\r',
        '\n',
        ' ',
        'a',
        '',
        '\ufeff',
        '😀',
        'é',
        '-12.5',
        '=1',
      ),
      {
        maxLength: 6,
      },
    )
    .map((parts) => parts.join('')),
);

const table = fc
  .integer({ min: 1, max: 5 })
  .chain((width) =>
    fc.array(fc.array(cellText, { minLength: width, maxLength: width }), { minLength: 1, maxLength: 8 }),
  );

const rules = fc.record({
  delimiter: fc.constantFrom(',', ';', '\t', '|'),
  lineEnd: fc.constantFrom('crlf' as const, 'lf' as const),
  byteOrderMark: fc.constant('none' as const),
});

const SEED = { seed: 41_800, numRuns: 300 };

describe('writer and reader', () => {
  it('give back any text, without a flaw', async () => {
    await fc.assert(
      fc.asyncProperty(table, rules, async (rows, style) => {
        const bytes = Buffer.from(rows.map((row) => csvRecord(row, style)).join(''));
        const { records, flaws } = await readAll(bytes, style);
        expect(records.map((r) => r.cells)).toEqual(rows);
        // NUL is text that the writer lets through and the reader points at.
        expect(flaws.filter((f) => f.kind !== 'nul-byte')).toEqual([]);
        // Each record's offset is where its bytes begin.
        for (const [i, record] of records.entries()) {
          expect(
            bytes
              .subarray(record.byteOffset)
              .toString()
              .startsWith(csvRecord(rows[i] ?? [], style)),
          ).toBe(true);
        }
      }),
      SEED,
    );
  });

  it('give the same records whichever way the bytes are cut', () => {
    fc.assert(
      fc.property(
        fc.oneof(
          table.map((rows) => Buffer.from(rows.map((row) => csvRecord(row, RFC4180)).join(''))),
          // Any bytes: flaws too must not depend on the cuts.
          fc
            .array(fc.constantFrom(0x22, 0x2c, 0x0d, 0x0a, 0x61, 0x00, 0xc3, 0xa9, 0xef, 0xbb, 0xbf, 0xff), {
              maxLength: 40,
            })
            .map((bytes) => Buffer.from(bytes)),
        ),
        fc.array(fc.nat(200), { maxLength: 6 }),
        fc.constantFrom('none' as const, 'required' as const, 'either' as const),
        (bytes, places, byteOrderMark) => {
          const cuts = places.map((p) => p % (bytes.length + 1)).toSorted((a, b) => a - b);
          const style: CsvRules = { delimiter: ',', lineEnd: 'crlf', byteOrderMark };
          const whole = readCut(bytes, [], style);
          expect(readCut(bytes, cuts, style)).toEqual(whole);
          const every = Array.from({ length: Math.max(0, bytes.length - 1) }, (_, i) => i + 1);
          expect(readCut(bytes, every, style)).toEqual(whole);
        },
      ),
      SEED,
    );
  });

  it('agree with papaparse and csv-parse on good files', async () => {
    await fc.assert(
      fc.asyncProperty(table, async (rows) => {
        const text = rows.map((row) => csvRecord(row, RFC4180)).join('');
        const ours = (await readAll(Buffer.from(text))).records.map((r) => r.cells);
        const papa = Papa.parse<string[]>(text, { delimiter: ',', newline: '\r\n' }).data;
        // papaparse reads a last record out of the final line end.
        expect(papa.slice(0, -1)).toEqual(ours);
        expect(csvParse(Buffer.from(text), { record_delimiter: '\r\n' })).toEqual(ours);
      }),
      SEED,
    );
  });
});

describe('a damaged cell', () => {
  it('costs its own record only', async () => {
    const damage = ['x"y', '"x"y', 'x\r', 'x\0', Buffer.from([0xff])];
    for (const cell of damage) {
      const bytes = Buffer.concat([
        Buffer.from('a,b\r\n1,2\r\n'),
        Buffer.from(cell as string),
        Buffer.from(',4\r\n5,6\r\n7,8\r\n'),
      ]);
      const { records, flaws } = await readAll(bytes);
      expect(flaws.length, String(cell)).toBeGreaterThan(0);
      expect(new Set(flaws.map((f) => f.record)).has(2), String(cell)).toBe(false);
      expect(records.slice(-2).map((r) => r.cells)).toEqual([
        ['5', '6'],
        ['7', '8'],
      ]);
    }
  });
});

describe('files', () => {
  let folder = '';
  beforeAll(() => {
    folder = mkdtempSync(join(tmpdir(), 'csv-'));
  });
  afterAll(() => rmSync(folder, { recursive: true }));

  it('are read in pieces, with offsets and lines of the whole file', async () => {
    const row = (i: number): string => csvRecord([String(i), 'two\nlines'], RFC4180);
    const text = Array.from({ length: 40_000 }, (_, i) => row(i)).join('');
    const file = join(folder, 'long.csv');
    writeFileSync(file, text);
    const { records, flaws } = await readAll(file);
    expect(flaws).toEqual([]);
    expect(records).toHaveLength(40_000);
    const last = records.at(-1);
    expect(last).toEqual({
      record: 40_000,
      byteOffset: text.length - row(39_999).length,
      line: 2 * 39_999 + 1,
      cells: ['39999', 'two\nlines'],
      quoted: [false, true],
    });
  });

  it('that are not there are bad input', async () => {
    await expect(readAll(join(folder, 'none.csv'))).rejects.toThrow(BadInput);
  });

  it('with a record above the limit are read up to it', async () => {
    const bytes = Buffer.concat([
      Buffer.from('a,b\r\n1,"'),
      Buffer.alloc(MAX_RECORD_BYTES, 0x61),
      Buffer.from('"\r\n3,4\r\n'),
    ]);
    const { records, flaws } = await readAll(bytes);
    expect(records.map((r) => r.cells)).toEqual([['a', 'b']]);
    expect(flaws).toEqual([
      {
        kind: 'record-too-long',
        record: 2,
        byteOffset: 5,
        line: 2,
        words: 'the record is longer than 16777216 bytes; reading stops here',
      },
    ]);
  });
});

describe('a delimiter', () => {
  it.each(['', ',,', '"', '\n', 'é'])('%j is refused', async (delimiter) => {
    await expect(readAll(Buffer.from('a'), { ...RFC4180, delimiter })).rejects.toThrow(BadInput);
  });
});
