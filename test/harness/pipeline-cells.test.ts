// How the reference pipeline writes cells, and which topics its filters match.
import { describe, expect, it } from 'vitest';
import type { Column, ColumnForm, Contract } from '../../harness/contract/contract.ts';
import { cellWriter, numberText } from '../../harness/pipeline/cell.ts';
import { BadInput } from '../../sim/index.ts';

const CSV: Contract['csv'] = {
  delimiter: ',',
  lineEnd: 'crlf',
  header: true,
  byteOrderMark: 'none',
  formulaGuard: '',
};

function written(form: ColumnForm, value: unknown, nullAs: string | null = '', csv = CSV): string {
  const column: Column = { name: 'x', field: null, form, nullAs };
  return cellWriter(column, csv)(value);
}

describe('numbers', () => {
  it.each([
    [-38.4, 7, '-38.4000000'],
    [0, 2, '0.00'],
    [-0.001, 2, '0.00'],
    [-0, 0, '0'],
    [1e-7, 7, '0.0000001'],
    [-14.2, null, '-14.2'],
    // Shortest round trip (IEEE 754-2019 clause 5.12).
    [0.1 + 0.2, null, '0.30000000000000004'],
    [1e-7, null, '0.0000001'],
    [-1.5e-7, null, '-0.00000015'],
    [1.2e21, null, '1200000000000000000000'],
    [-0, null, '0'],
    [2 ** 53 - 1, null, '9007199254740991'],
  ])('%d with %s digits is %s', (value, decimals, text) => {
    expect(numberText(value, decimals)).toBe(text);
  });

  it('are scaled into the unit of the column', () => {
    expect(written({ kind: 'number', factor: 0.01, within: 0.005, decimals: 2 }, 101_325)).toBe('1013.25');
  });
});

describe('text and absent values', () => {
  const TEXT: ColumnForm = { kind: 'text' };
  it('are told apart', () => {
    expect(written(TEXT, null, '')).toBe('');
    expect(written(TEXT, '', '')).toBe('""');
    expect(written(TEXT, 'NULL', 'NULL')).toBe('"NULL"');
    expect(written(TEXT, null, 'NULL')).toBe('NULL');
    expect(written(TEXT, 'null', 'NULL')).toBe('null');
  });

  it('get the formula guard where one is promised, numbers never', () => {
    const guarded = { ...CSV, formulaGuard: "'" };
    expect(written(TEXT, '=1+1', '', guarded)).toBe("'=1+1");
    expect(written(TEXT, '=1+1')).toBe('=1+1');
    expect(written({ kind: 'number', factor: 1, within: 0, decimals: 1 }, -4.2, '', guarded)).toBe('-4.2');
  });
});

describe('times', () => {
  const time = (
    as: 'rfc3339' | 'local' | 'epoch-ms' | 'epoch-s',
    zone = 'UTC',
    secondDecimals = 3,
  ): ColumnForm => ({
    kind: 'time',
    as,
    zone,
    secondDecimals,
  });
  // RFC 3339 section 5.8 gives the first three texts for these moments.
  it.each([
    [time('rfc3339', 'UTC', 2), 482_196_050_520, '1985-04-12T23:20:50.52Z'],
    [time('rfc3339', 'America/Los_Angeles', 0), 851_042_397_000, '1996-12-19T16:39:57-08:00'],
    [time('rfc3339', 'UTC', 3), 851_042_397_000, '1996-12-20T00:39:57.000Z'],
    [time('rfc3339'), -1, '1969-12-31T23:59:59.999Z'],
    [time('local'), 482_196_050_520, '1985-04-12 23:20:50.520'],
    [time('epoch-ms'), 482_196_050_520, '482196050520'],
    [time('epoch-s'), 482_196_050_520, '482196050.520'],
    [time('epoch-s', 'UTC', 0), 482_196_050_999, '482196050'],
    [time('epoch-s', 'UTC', 1), -1500, '-1.5'],
    // Directive 2000/84/EC: summer time ends at 01:00 UTC on the last Sunday of October, 26 October 2031.
    [time('local', 'Europe/Lisbon', 0), Date.UTC(2031, 9, 26, 0, 59, 59), '2031-10-26 01:59:59'],
    [time('local', 'Europe/Lisbon', 0), Date.UTC(2031, 9, 26, 1, 0, 0), '2031-10-26 01:00:00'],
    [time('rfc3339', 'Asia/Kathmandu', 0), Date.UTC(2031, 0, 1), '2031-01-01T05:45:00+05:45'],
  ])('%j: %d is %s', (form, ms, text) => {
    expect(written(form, ms)).toBe(text);
  });

  it('in a zone that does not exist are bad input', () => {
    expect(() => written(time('local', 'Tarn/Ostrel'), 0)).toThrow(BadInput);
  });
});
