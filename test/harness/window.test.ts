// Windows [from, to) and second exports.
import { describe, expect, it } from 'vitest';
import { defaultContract, parseContract } from '../../harness/contract/read-contract.ts';
import type { Contract } from '../../harness/contract/contract.ts';
import {
  cellsOf,
  csvBytes,
  ids,
  idealRows,
  idealWindow,
  judged,
  type Window,
} from '../support/ideal-export.ts';
import { scenarioOf } from '../support/scenarios.ts';

const contract = defaultContract();
const FROM = 0;
const TO = 4e12;

/** Three trackers that report on the same millisecond, so that edges hit several rows. */
const scenario = scenarioOf({
  seed: 'window',
  lasts: '6min',
  fleet: [
    {
      name: 'crates',
      count: 3,
      labels: ['a'],
      motion: { kind: 'parked', at: 'ostrel-quay' },
      report: { every: '60s', spread: '0s' },
    },
  ],
});
const rows = idealRows(scenario, contract);
const whole = csvBytes(contract, cellsOf(rows));
const edge = rows[9]?.reading.atMs ?? 0;

const judge = async (windows: readonly Window[]) => {
  const results = await judged({ scenario, contract, whole, windows });
  return { broken: ids(results, 'broken'), check: results.get('window.exact') };
};
const window = (fromMs: number, toMs: number) => idealWindow(contract, rows, fromMs, toMs);
/** The window that is asked for, answered with another one's rows. */
const answered = (fromMs: number, toMs: number, from: number, to: number): Window => ({
  ...window(from, to),
  fromMs,
  toMs,
});

describe('a window', () => {
  it('that meets its neighbour on a reading is held, and so is an empty one there', async () => {
    const { broken, check } = await judge([window(FROM, edge), window(edge, TO), window(edge, edge)]);
    expect(broken).toEqual([]);
    expect(check).toMatchObject({ looked: rows.length, words: `3 windows, ${rows.length} rows in them` });
  });

  const off: readonly (readonly [string, Window, string])[] = [
    ['holds its end', answered(FROM, edge, FROM, edge + 1), 'rows stand in a window they do not belong to'],
    [
      'leaves its start out',
      answered(edge, TO, edge + 1, TO),
      'rows of the whole export are missing from the window they belong to',
    ],
    ['begins too early', answered(edge + 1, TO, edge, TO), 'rows stand in a window they do not belong to'],
    [
      'ends too early',
      answered(FROM, edge + 1, FROM, edge),
      'rows of the whole export are missing from the window they belong to',
    ],
    [
      'is empty but for its edge',
      answered(edge, edge, edge, edge + 1),
      'rows stand in a window they do not belong to',
    ],
  ];
  it.each(off)('%s by a millisecond: three rows are told', async (_, wrong, what) => {
    const { broken, check } = await judge([wrong]);
    expect(broken).toEqual(['window.exact']);
    expect(check?.findings).toMatchObject([{ what, count: 3, trackers: 3 }]);
    expect(check?.findings[0]?.examples).toHaveLength(3);
    expect(check?.findings[0]?.examples[0]?.at).toBe(new Date(edge).toISOString());
  });

  it('with a row that the whole lacks', async () => {
    const [first] = rows;
    const more = csvBytes(contract, [...cellsOf(rows), first?.cells.with(3, '99') ?? []]);
    const { broken, check } = await judge([{ fromMs: FROM, toMs: TO, bytes: more }]);
    expect(broken).toEqual(['window.exact']);
    expect(check?.findings).toMatchObject([
      { what: 'rows of a window are missing from the whole export', count: 1 },
    ]);
  });

  it('with a cell written otherwise than in the whole', async () => {
    const other = cellsOf(rows).with(4, rows[4]?.cells.with(22, '-1') ?? []);
    const { check } = await judge([{ fromMs: FROM, toMs: TO, bytes: csvBytes(contract, other) }]);
    expect(check?.findings).toMatchObject([
      {
        what: 'rows differ between the window and the whole export',
        count: 1,
        trackers: 1,
        examples: [
          { record: 6, column: contract.columns[22]?.name, expected: rows[4]?.cells[22], found: '-1' },
        ],
      },
    ]);
  });

  it('with one row written otherwise and another one left out: each is told once', async () => {
    const other = cellsOf(rows)
      .with(4, rows[4]?.cells.with(22, '-1') ?? [])
      .toSpliced(7, 1);
    const { check } = await judge([{ fromMs: FROM, toMs: TO, bytes: csvBytes(contract, other) }]);
    expect(check?.findings.map(({ what, count }) => [what, count])).toEqual([
      ['rows of the whole export are missing from the window they belong to', 1],
      ['rows differ between the window and the whole export', 1],
    ]);
  });

  it('capped at a number of rows', async () => {
    const { check } = await judge([
      { fromMs: FROM, toMs: TO, bytes: csvBytes(contract, cellsOf(rows.slice(0, 10))) },
    ]);
    expect(check?.findings).toMatchObject([{ count: rows.length - 10 }]);
  });

  it('whose file is not as promised breaks the checks of the file', async () => {
    const text = whole.toString();
    const of = async (bytes: Buffer) => (await judge([{ fromMs: FROM, toMs: TO, bytes }])).broken;
    expect(await of(Buffer.from(text.replaceAll('\r\n', '\n')))).toEqual(['csv.form']);
    expect(await of(Buffer.from(`\ufeff${text}`))).toEqual(['csv.form']);
    expect(await of(Buffer.from(text.replace('label', 'Label')))).toEqual(['csv.header']);
    expect(await of(Buffer.from(''))).toEqual(['csv.form', 'csv.header', 'window.exact']);
  });

  it('by a column that is not exported is not seen', async () => {
    const hidden: Contract = { ...contract, window: { column: 'stored_at' } };
    const results = await judged({ scenario, contract: hidden, whole, windows: [window(FROM, TO)] });
    expect(results.get('window.exact')).toMatchObject({ outcome: 'not-seen', looked: 0 });
    expect(ids(results, 'broken')).toEqual([]);
  });
});

describe('a window whose cells leave the time open', () => {
  const parse = (at: string) =>
    parseContract(
      `wayproof: contract/1
title: t
columns:
  - { name: id, field: id }
  - { name: boot, field: boot }
  - { name: seq, field: seq }
  - { name: at, field: at, ${at} }
  - { name: temp, field: airTempC }
identity: [id, boot, seq]
order: [at, id, boot, seq]
`,
      'c.yaml',
    );

  it('by cut seconds goes by what was measured', async () => {
    const cut = parse('secondDecimals: 0');
    const odd = scenarioOf({
      seed: 'odd',
      lasts: '4min',
      fleet: [
        {
          name: 'crates',
          count: 3,
          labels: ['a'],
          motion: { kind: 'parked', at: 'ostrel-quay' },
          report: { every: '60s', spread: '5s' },
        },
      ],
    });
    const ideal = idealRows(odd, cut);
    const middle =
      ideal.find(({ reading }) => reading.seq === 2 && reading.atMs % 1000 > 0)?.reading.atMs ?? 0;
    const of = async (windows: readonly Window[]) =>
      ids(
        await judged({ scenario: odd, contract: cut, whole: csvBytes(cut, cellsOf(ideal)), windows }),
        'broken',
      );
    const [before, after] = [idealWindow(cut, ideal, FROM, middle), idealWindow(cut, ideal, middle, TO)];
    expect(middle % 1000).toBeGreaterThan(0);
    expect(await of([before, after])).toEqual([]);
    expect(await of([{ ...idealWindow(cut, ideal, FROM, middle + 1), toMs: middle }])).toEqual([
      'window.exact',
    ]);
    expect(await of([{ ...idealWindow(cut, ideal, middle + 1, TO), fromMs: middle }])).toEqual([
      'window.exact',
    ]);
  });

  // In Europe/Dublin the hour from 01:00 is shown twice on 26 October 2031, the last Sunday: 00:00Z and 01:00Z.
  const autumn = (every: string) =>
    scenarioOf({
      seed: 'autumn',
      starts: '2031-10-25T23:30:00Z',
      lasts: '3h',
      fleet: [
        {
          name: 'crates',
          count: 3,
          labels: ['a'],
          motion: { kind: 'parked', at: 'ostrel-quay' },
          report: { every, spread: '0s' },
        },
      ],
    });
  const local = parse('as: local, zone: Europe/Dublin');

  it.each(['10min', '30min', '60min'])(
    'in the hour that comes twice, every %s: held, in order and exact',
    async (every) => {
      const night = autumn(every);
      const ideal = idealRows(night, local);
      const change = Date.parse('2031-10-26T01:00:00Z');
      expect(ideal.some(({ reading }) => reading.atMs < change)).toBe(true);
      const results = await judged({
        scenario: night,
        contract: local,
        whole: csvBytes(local, cellsOf(ideal)),
        again: csvBytes(local, cellsOf(ideal)),
        windows: [idealWindow(local, ideal, FROM, change), idealWindow(local, ideal, change, TO)],
      });
      expect(ids(results, 'broken')).toEqual([]);
      // Sorted by what is written, the two hours are interleaved: that is in order too, but not per tracker.
      const shown = ideal.toSorted((a, b) => {
        const [x, y] = [a, b].map(({ cells }) =>
          [cells[3], cells[0], cells[1], cells[2]?.padStart(3, '0')].join(),
        );
        return (x ?? '') < (y ?? '') ? -1 : 1;
      });
      const byText = await judged({
        scenario: night,
        contract: { ...local, perTracker: 'none' },
        whole: csvBytes(local, cellsOf(shown)),
      });
      expect(ids(byText, 'broken')).toEqual([]);
    },
  );

  it('in the hour that comes twice, with the wrong side of the edge: broken', async () => {
    const night = autumn('10min');
    const ideal = idealRows(night, local);
    const change = Date.parse('2031-10-26T01:00:00Z');
    const late = idealWindow(local, ideal, FROM, change + 600_000);
    const results = await judged({
      scenario: night,
      contract: local,
      whole: csvBytes(local, cellsOf(ideal)),
      windows: [{ ...late, toMs: change }],
    });
    expect(ids(results, 'broken')).toEqual(['window.exact']);
    expect(results.get('window.exact')?.findings[0]?.count).toBe(3);
  });

  it('in the hour that comes twice, where the time names the reading: each row goes to its own', async () => {
    const night = autumn('10min');
    const promise = { ...local, identity: ['id', 'at'], perTracker: 'none' as const, order: [] };
    const ideal = cellsOf(idealRows(night, promise));
    const of = async (some: typeof ideal) =>
      ids(await judged({ scenario: night, contract: promise, whole: csvBytes(promise, some) }), 'broken');
    expect(await of(ideal)).toEqual([]);
    expect(await of(ideal.toReversed())).toEqual([]);
    expect(await of(ideal.map((cells) => cells.with(4, '1')))).toEqual(['values.numbers']);
  });

  it('in the hour that never was: no row can say so', async () => {
    const spring = scenarioOf({
      seed: 'spring',
      starts: '2031-03-30T00:30:00Z',
      lasts: '2h',
      fleet: [
        {
          name: 'one',
          count: 1,
          labels: ['a'],
          motion: { kind: 'parked', at: 'ostrel-quay' },
          report: { every: '10min', spread: '0s' },
        },
      ],
    });
    const ideal = cellsOf(idealRows(spring, local));
    const of = async (some: typeof ideal) =>
      ids(await judged({ scenario: spring, contract: local, whole: csvBytes(local, some) }), 'broken');
    expect(await of(ideal)).toEqual([]);
    // A pipeline that forgets the change writes 01:30 for 01:30Z, which the clocks of Dublin never showed.
    const at = ideal.findIndex((cells) => cells[3]?.startsWith('2031-03-30 02:3'));
    const forgot = ideal.with(at, ideal[at]?.with(3, ideal[at]?.[3]?.replace(' 02', ' 01') ?? '') ?? []);
    expect(await of(forgot)).toEqual(['values.time']);
  });
});

describe('a second export', () => {
  const again = async (bytes: Uint8Array, promise = contract) => {
    const results = await judged({ scenario, contract: promise, whole, again: bytes });
    return { broken: ids(results, 'broken'), check: results.get('ordering.stable') };
  };

  it('that is the same is held', async () => {
    expect((await again(whole)).check).toMatchObject({ outcome: 'held', looked: rows.length });
  });

  it('in another order tells the first row that stands elsewhere', async () => {
    const swapped = cellsOf([...rows.slice(0, 3), ...rows.slice(3, 5).toReversed(), ...rows.slice(5)]);
    const { broken, check } = await again(csvBytes(contract, swapped));
    expect(broken).toEqual(['ordering.stable']);
    expect(check?.findings).toMatchObject([
      { what: 'rows stand in another order than in the whole export', count: 1, examples: [{ record: 5 }] },
    ]);
  });

  it('in another order is held where no order is promised, and the words say so', async () => {
    const free = { ...contract, order: [] };
    const { broken, check } = await again(csvBytes(contract, cellsOf(rows.toReversed())), free);
    expect(broken).toEqual([]);
    expect(check?.words).toMatch(/promises no order/);
  });

  it('with a cell written otherwise tells one row, and nothing of their order', async () => {
    const other = cellsOf(rows).with(4, rows[4]?.cells.with(22, '-1') ?? []);
    const { broken, check } = await again(csvBytes(contract, other));
    expect(broken).toEqual(['ordering.stable']);
    expect(check?.findings).toMatchObject([
      {
        what: 'rows differ between the second export and the whole export',
        count: 1,
        examples: [{ record: 6 }],
      },
    ]);
  });

  it('with a row less, or twice', async () => {
    const less = await again(csvBytes(contract, cellsOf(rows.slice(1))));
    const twice = await again(csvBytes(contract, cellsOf([...rows, ...rows.slice(-1)])));
    expect([less.check?.findings[0]?.count, twice.check?.findings[0]?.count]).toEqual([1, 1]);
    expect([...less.broken, ...twice.broken]).toEqual(['ordering.stable', 'ordering.stable']);
  });

  it('of rows whose time cannot be read is still the same', async () => {
    const spoilt = csvBytes(
      contract,
      cellsOf(rows).map((cells) => cells.with(4, 'noon')),
    );
    const results = await judged({ scenario, contract, whole: spoilt, again: spoilt });
    expect(results.get('ordering.stable')?.outcome).toBe('held');
    expect(ids(results, 'broken')).toEqual(['schema.rows', 'values.time']);
  });
});
