import { describe, expect, it } from 'vitest';
import { cellJudge, decimalText, timesOf } from '../../harness/checks/cell.ts';
import { Zone } from '../../harness/checks/zone.ts';
import type { Column, ColumnForm } from '../../harness/contract/contract.ts';
import { rosterOf, trackerEvents, type Reading } from '../../sim/index.ts';
import { scenarioOf } from '../support/scenarios.ts';

/** A reading that a tracker made, with some of its values set by hand. */
function reading(values: Partial<Reading>): Reading {
  const scenario = scenarioOf({
    seed: 'cell',
    lasts: '5min',
    fleet: [{ name: 'one', count: 1, labels: ['a'], motion: { kind: 'parked', at: 'ostrel-quay' } }],
  });
  for (const spec of rosterOf(scenario)) {
    for (const event of trackerEvents(scenario, spec)) {
      if (event.kind === 'emission' && event.readings[0]) return { ...event.readings[0], ...values };
    }
  }
  throw new Error('nothing was sent');
}

const number = (form: Partial<Extract<ColumnForm, { kind: 'number' }>> = {}, more: Partial<Column> = {}) =>
  ({
    name: 'temp',
    field: 'airTempC',
    form: { kind: 'number', factor: 1, within: 0, decimals: null, ...form },
    nullAs: '',
    ...more,
  }) satisfies Column;

const fault = (column: Column, values: Partial<Reading>, cell: string, guard = '') =>
  cellJudge(column, guard)?.judge(cell, reading(values)) ?? 'held';

describe('a number', () => {
  const temp = (cell: string) => fault(number(), { airTempCE2: 2150 }, cell);

  it.each(['21.5', '21.50', '21.5000'])('%j is 21.5', (cell) => expect(temp(cell)).toBe('held'));

  it.each(['21.51', '21', '22', '-21.5', '2150', '21,5', '21.5 C', 'NaN', 'Infinity', '0', "'21.5"])(
    '%j is another number',
    (cell) => expect(temp(cell)).toBe('number'),
  );

  it.each(['2.15e1', '+21.5', '021.5', ' 21.5', '21.5 ', '21.5\t'])(
    '%j is the number, otherwise written',
    (cell) => expect(temp(cell)).toBe('form'),
  );

  it.each(['', ' '])('%j is absent', (cell) => expect(temp(cell)).toBe('absent'));

  it('takes 1234 apart from 1,234 and 0x4d2', () => {
    const pressure = number({}, { field: 'pressurePa' });
    const cells = ['1234', '1,234', '0x4d2', '1234.', '1.234e3'];
    expect(cells.map((cell) => fault(pressure, { pressurePa: 1234 }, cell))).toEqual([
      'held',
      'number',
      'form',
      'form',
      'form',
    ]);
  });

  it('takes zero for zero, whatever its sign', () => {
    const cells = ['0', '0.00', '-0', '-0.0', '', 'null', '00'];
    expect(cells.map((cell) => fault(number(), { airTempCE2: 0 }, cell))).toEqual([
      'held',
      'held',
      'held',
      'held',
      'absent',
      'number',
      'form',
    ]);
  });

  it('tells absent from zero and from words', () => {
    const cells = ['', '0', '""', 'null', ' ', '21.5'];
    expect(cells.map((cell) => fault(number(), { airTempCE2: null }, cell))).toEqual([
      'held',
      'absent',
      'absent',
      'absent',
      'absent',
      'absent',
    ]);
  });

  it('lets a contract write absence as a number', () => {
    const column = number({}, { nullAs: '0' });
    expect(fault(column, { airTempCE2: null }, '0')).toBe('held');
    expect(fault(column, { airTempCE2: 0 }, '0')).toBe('held');
    expect(fault(column, { airTempCE2: 2150 }, '0')).toBe('absent');
    expect(fault(column, { airTempCE2: null }, '')).toBe('absent');
  });

  it('has the digits that the contract promises', () => {
    const column = number({ decimals: 3 });
    const cells = ['21.500', '21.5', '21.5000', '22.500'];
    expect(cells.map((cell) => fault(column, { airTempCE2: 2150 }, cell))).toEqual([
      'held',
      'form',
      'form',
      'number',
    ]);
    expect(cellJudge(column, '')?.expected(reading({ airTempCE2: -5 }))).toBe('-0.050');
  });

  it('is held up to the promised difference, its end included, and not past it', () => {
    const column = number({ decimals: 1, within: 0.05 });
    // 21.35 rounds to 21.4 or, by banker's rounding of its double, to 21.3: both are 0.05 away.
    const cells = ['21.3', '21.4', '21.2', '21.5'];
    expect(cells.map((cell) => fault(column, { airTempCE2: 2135 }, cell))).toEqual([
      'held',
      'held',
      'number',
      'number',
    ]);
  });

  it('is broken just past the promised difference', () => {
    const column = number({ within: 0.05 });
    const cells = ['21.40', '21.41', '21.30', '21.29', '21.4000001'];
    expect(cells.map((cell) => fault(column, { airTempCE2: 2135 }, cell))).toEqual([
      'held',
      'number',
      'held',
      'number',
      'number',
    ]);
  });

  it('is converted by the factor', () => {
    const kmh = number({ factor: 3.6 }, { field: 'speedMps' });
    // 12.34 m/s = 44.424 km/h exactly; in doubles 12.34 * 3.6 is 44.424 or 44.42400000000000x.
    const cells = ['44.424', String(12.34 * 3.6), '44.42', '44.425', '12.34'];
    expect(cells.map((cell) => fault(kmh, { speedMpsE2: 1234 }, cell))).toEqual([
      'held',
      'held',
      'number',
      'number',
      'number',
    ]);
  });
});

describe('decimalText', () => {
  it.each([
    [-383_912_345, 7, '-38.3912345'],
    [-5, 2, '-0.05'],
    [1500, 3, '1.5'],
    [0, 2, '0'],
    [12, 0, '12'],
    [-100, 2, '-1'],
  ])('%i at %i places is %s', (scaled, decimals, text) => expect(decimalText(scaled, decimals)).toBe(text));
});

describe('a text', () => {
  const label: Column = { name: 'label', field: 'label', form: { kind: 'text' }, nullAs: null };

  it.each(['', ' x ', '007', 'null', 'a\r\nb', 'Cafe\u0301', '=1+1', '🧊'])('%j is itself alone', (text) => {
    expect(fault(label, { label: text }, text)).toBe('held');
    expect(fault(label, { label: text }, `${text} `)).toBe('text');
    expect(fault(label, { label: text }, `${text}\0`)).toBe('text');
  });

  it('is not folded', () => {
    expect(fault(label, { label: 'Cafe\u0301' }, 'Caf\u00e9')).toBe('text');
    expect(fault(label, { label: '007' }, '7')).toBe('text');
    expect(fault(label, { label: 'a\r\nb' }, 'a\nb')).toBe('text');
    expect(fault(label, { label: 'a' }, 'A')).toBe('text');
    expect(fault(label, { label: '' }, 'null')).toBe('text');
  });

  it.each(['=1', '+1', '-1', '@a'])('%s gets the guard in front, where one is promised', (text) => {
    expect(fault(label, { label: text }, `'${text}`, "'")).toBe('held');
    expect(fault(label, { label: text }, text, "'")).toBe('text');
    expect(fault(label, { label: text }, `'${text}`)).toBe('text');
  });

  it('that starts otherwise gets no guard', () => {
    expect(fault(label, { label: 'a=1' }, 'a=1', "'")).toBe('held');
    expect(fault(label, { label: 'a=1' }, "'a=1", "'")).toBe('text');
  });
});

describe('a time', () => {
  const time = (form: Partial<Extract<ColumnForm, { kind: 'time' }>>): Column => ({
    name: 'at',
    field: 'at',
    form: { kind: 'time', as: 'rfc3339', zone: 'UTC', secondDecimals: 3, ...form },
    nullAs: null,
  });
  const of = (form: Parameters<typeof time>[0], atMs: number, cells: readonly string[]) =>
    cells.map((cell) => fault(time(form), { atMs }, cell));

  it('is judged by instant, then by form', () => {
    // RFC 3339 section 5.8: 1985-04-12T23:20:50.52Z.
    const cells = [
      '1985-04-12T23:20:50.520Z',
      '1985-04-12T23:20:50.520+00:00',
      '1985-04-12T23:20:50.52Z',
      '1985-04-13T00:20:50.520+01:00',
      '1985-04-12t23:20:50.520z',
      '1985-04-12 23:20:50.520Z',
      '1985-04-12T23:20:50.521Z',
      '1985-04-12T23:20:50.520+01:00',
      '1985-04-12T23:20:50.520',
      '482196050520',
      '',
    ];
    expect(of({}, 482_196_050_520, cells)).toEqual([
      'held',
      'held',
      'form',
      'form',
      'form',
      'time',
      'time',
      'time',
      'time',
      'time',
      'absent',
    ]);
  });

  it('counts from 1970, to the promised digits, cut', () => {
    expect(of({ as: 'epoch-ms' }, 482_196_050_520, ['482196050520', '482196050', '482196050520.0'])).toEqual([
      'held',
      'time',
      'time',
    ]);
    const seconds = ['482196050.520', '482196050.52', '482196050', '482196050.521'];
    expect(of({ as: 'epoch-s' }, 482_196_050_520, seconds)).toEqual(['held', 'form', 'time', 'time']);
    expect(of({ as: 'epoch-s', secondDecimals: 0 }, 482_196_050_999, ['482196050', '482196051'])).toEqual([
      'held',
      'time',
    ]);
  });

  it('in seconds is cut, not rounded', () => {
    const cells = ['1985-04-12T23:20:50Z', '1985-04-12T23:20:51Z', '1985-04-12T23:20:50.999Z'];
    expect(of({ secondDecimals: 0 }, 482_196_050_999, cells)).toEqual(['held', 'time', 'form']);
  });

  it('has the offset of the promised zone', () => {
    // RFC 3339 section 5.8: 1996-12-19T16:39:57-08:00 = 1996-12-20T00:39:57Z; Los Angeles keeps -08:00 in December.
    const cells = ['1996-12-19T16:39:57-08:00', '1996-12-20T00:39:57Z', '1996-12-19T16:39:57Z'];
    expect(of({ zone: 'America/Los_Angeles', secondDecimals: 0 }, 851_042_397_000, cells)).toEqual([
      'held',
      'form',
      'time',
    ]);
  });

  it('that no clock can hold is no time', () => {
    const zone = new Zone('UTC');
    for (const as of ['epoch-ms', 'epoch-s'] as const) {
      const form = { kind: 'time', as, zone: 'UTC', secondDecimals: 3 } as const;
      expect(timesOf('9'.repeat(400), form, zone)).toEqual([]);
    }
  });
});
