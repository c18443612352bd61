// Small histories by hand: the smallest export that breaks each check, and what legitimately breaks with it.
import { describe, expect, it } from 'vitest';
import { defaultContract, parseContract } from '../../harness/contract/read-contract.ts';
import type { DueOf } from '../../harness/expected/expected.ts';
import { rosterOf, trackerEvents } from '../../sim/index.ts';
import { cellsOf, csvBytes, ids, idealRows, judged, type Cells } from '../support/ideal-export.ts';
import { scenarioOf } from '../support/scenarios.ts';

const contract = defaultContract();
const NAMES = contract.columns.map(({ name }) => name);
const at = (name: string) => NAMES.indexOf(name);

/** Two trackers, five readings each. */
const scenario = scenarioOf({
  seed: 'judge',
  lasts: '5min',
  fleet: [
    {
      name: 'crates',
      count: 2,
      labels: ['crate {n}, "cold"'],
      motion: { kind: 'parked', at: 'ostrel-quay' },
      report: { every: '60s' },
    },
  ],
});
const rows = idealRows(scenario, contract);
const cells = cellsOf(rows);
const good = csvBytes(contract, cells);
const id = (k: number) => cells[k]?.[0] ?? '';

/** The good cells with one of them written otherwise. */
const withCell = (row: number, name: string, text: string): Cells =>
  cells.map((record, k) => (k === row ? record.with(at(name), text) : record));

const judge = (bytes: Uint8Array, dueOf?: DueOf) =>
  judged({ scenario, contract, whole: bytes, ...(dueOf ? { dueOf } : {}) });
const brokenBy = async (bytes: Uint8Array) => ids(await judge(bytes), 'broken');
const brokenByCells = (changed: Cells) => brokenBy(csvBytes(contract, changed));

describe('a good export', () => {
  it('is held, and what cannot be seen says why', async () => {
    expect(rows).toHaveLength(10);
    const results = await judge(good);
    expect(ids(results, 'broken')).toEqual([]);
    const unseen = [...results.values()].filter(({ outcome }) => outcome === 'not-seen');
    expect(Object.fromEntries(unseen.map((check) => [check.id, check.words]))).toEqual({
      'ingest.batches-whole': 'no row came out of a batch',
      'window.exact': 'no period was exported beside the whole',
      'ordering.stable': 'the whole period was exported once only',
    });
    expect(results.get('ingest.complete')).toMatchObject({ looked: 10, words: '10 readings due' });
    expect(results.get('ordering.rows')?.looked).toBe(9);
    expect(results.get('ordering.tracker')?.looked).toBe(8);
    expect(results.get('values.numbers')?.looked).toBe(180);
  });

  it('without a row is not held by any check of rows', async () => {
    const results = await judge(csvBytes(contract, []));
    expect(ids(results, 'held')).toEqual(['csv.form', 'csv.header']);
    expect(ids(results, 'broken')).toEqual(['ingest.complete']);
    expect(results.get('ingest.complete')?.findings[0]).toMatchObject({ count: 10, trackers: 2 });
  });

  it('of no bytes lacks its header', async () => {
    expect(await brokenBy(new Uint8Array())).toEqual(['ingest.complete', 'csv.form', 'csv.header']);
  });
});

describe('rows', () => {
  it('one missing', async () => {
    const results = await judge(csvBytes(contract, cells.toSpliced(4, 1)));
    expect(ids(results, 'broken')).toEqual(['ingest.complete']);
    expect(results.get('ingest.complete')?.findings).toMatchObject([
      { count: 1, trackers: 1, examples: [{ tracker: id(4), boot: 1, seq: Number(cells[4]?.[at('seq')]) }] },
    ]);
  });

  it('one that nobody saw accepted may be missing, or not', async () => {
    const may: DueOf = (_, __, reading) =>
      reading === rows[4]?.reading || reading.seq === 2 ? 'may' : 'must';
    const without = await judge(csvBytes(contract, cells.toSpliced(4, 1)), may);
    expect(ids(without, 'broken')).toEqual([]);
    expect(without.get('ingest.complete')?.words).toBe(
      '8 readings due; 2 more left the tracker and were not seen accepted (1 of them came out)',
    );
  });

  it('all of which nobody saw accepted: nothing is proven complete', async () => {
    const results = await judge(good, () => 'may');
    expect(results.get('ingest.complete')?.outcome).toBe('not-seen');
    const wrong = await judge(csvBytes(contract, withCell(3, 'battery_pct', '7')), () => 'may');
    expect(ids(wrong, 'broken')).toEqual(['values.numbers']);
  });

  it('one of a tracker that is not in the fleet', async () => {
    const stranger = cells[0]?.with(0, '000000000000000') ?? [];
    const results = await judge(csvBytes(contract, [stranger, ...cells]));
    expect(ids(results, 'broken')).toEqual(['ingest.nothing-invented']);
    expect(results.get('ingest.nothing-invented')?.findings).toMatchObject([
      { what: 'rows of trackers that are not in the fleet', count: 1, examples: [{ record: 2, line: 2 }] },
    ]);
  });

  it('one whose identity cannot be read', async () => {
    const results = await judge(csvBytes(contract, withCell(2, 'seq', 'x')));
    expect(ids(results, 'broken')).toEqual(['ingest.complete', 'ingest.nothing-invented', 'schema.rows']);
    expect(results.get('ingest.nothing-invented')?.findings).toMatchObject([
      { what: 'rows whose identity cannot be read', count: 1, examples: [{ record: 4, tracker: id(2) }] },
    ]);
  });

  it('one that no tracker made', async () => {
    const results = await judge(csvBytes(contract, withCell(9, 'seq', '77')));
    expect(ids(results, 'broken')).toEqual(['ingest.complete', 'ingest.nothing-invented']);
    expect(results.get('ingest.nothing-invented')?.findings[0]?.what).toBe(
      'rows of readings that no tracker made',
    );
  });

  it('one that never left its tracker', async () => {
    const unsent: DueOf = (_, __, { seq }) => (seq === 3 ? 'never' : 'must');
    const results = await judge(good, unsent);
    expect(ids(results, 'broken')).toEqual(['ingest.nothing-invented']);
    expect(results.get('ingest.nothing-invented')?.findings).toMatchObject([
      { what: 'rows of readings that never left their tracker', count: 2, trackers: 2 },
    ]);
  });

  it('one twice', async () => {
    const results = await judge(csvBytes(contract, cells.toSpliced(5, 0, cells[4] ?? [])));
    expect(ids(results, 'broken')).toEqual(['ingest.no-repeats']);
    expect(results.get('ingest.no-repeats')?.findings).toMatchObject([
      { count: 1, trackers: 1, examples: [{ record: 7, tracker: id(4) }] },
    ]);
  });

  it('one checked against itself, not its neighbour', async () => {
    // The cells of one reading under the identity and time of another.
    const [from = [], to = []] = [cells[4], cells[6]];
    const mixed = [...to.slice(0, 5), ...from.slice(5)];
    expect(await brokenByCells(cells.with(6, mixed))).toEqual(['values.numbers']);
  });
});

describe('order', () => {
  it('of two rows of two trackers', async () => {
    const results = await judge(csvBytes(contract, cells.with(2, cells[3] ?? []).with(3, cells[2] ?? [])));
    expect(ids(results, 'broken')).toEqual(['ordering.rows']);
    expect(results.get('ordering.rows')?.findings).toMatchObject([
      {
        count: 1,
        examples: [
          {
            record: 5,
            column: 'measured_at',
            expected: `not before ${cells[3]?.[4]}`,
            found: cells[2]?.[4],
          },
        ],
      },
    ]);
  });

  it('of two rows of one tracker', async () => {
    const mine = cells.flatMap((record, k) => (record[0] === id(0) ? [k] : []));
    const [a = 0, b = 0] = mine;
    const results = await judge(csvBytes(contract, cells.with(a, cells[b] ?? []).with(b, cells[a] ?? [])));
    expect(ids(results, 'broken')).toEqual(['ordering.rows', 'ordering.tracker']);
    expect(results.get('ordering.tracker')?.findings[0]?.count).toBe(1);
  });

  it('of ties goes by the next key', async () => {
    const tied = scenarioOf({
      seed: 'ties',
      lasts: '3min',
      fleet: [
        {
          name: 'crates',
          count: 2,
          labels: ['a'],
          motion: { kind: 'parked', at: 'ostrel-quay' },
          report: { every: '60s', spread: '0s' },
        },
      ],
    });
    const ideal = cellsOf(idealRows(tied, contract));
    expect(ideal[0]?.[4]).toBe(ideal[1]?.[4]);
    const swapped = csvBytes(contract, ideal.with(0, ideal[1] ?? []).with(1, ideal[0] ?? []));
    const results = await judged({ scenario: tied, contract, whole: swapped });
    expect(ids(results, 'broken')).toEqual(['ordering.rows']);
    expect(results.get('ordering.rows')?.findings).toMatchObject([
      { count: 1, examples: [{ record: 3, column: 'tracker_id' }] },
    ]);
  });
});

describe('one cell', () => {
  // [column, text, what breaks]; the row is the sixth, whose fix is 3d.
  const cases: readonly (readonly [string, string, readonly string[]])[] = [
    ['battery_v', '4.1e0', ['schema.rows', 'values.numbers']],
    ['pressure_pa', '1', ['values.numbers']],
    ['pressure_pa', '100,734', ['schema.rows', 'values.numbers']],
    ['air_temp_c', '10,24', ['schema.rows', 'values.numbers']],
    ['air_temp_c', '', ['values.absent']],
    ['label', 'crate 1', ['values.text']],
    ['fix', '3D', ['schema.rows', 'values.text']],
    ['measured_at', '2031-03-03T00:02:00Z', ['values.time']],
    ['latitude', 'NaN', ['schema.rows', 'values.numbers']],
    ['latitude', 'null', ['schema.rows', 'values.numbers']],
  ];
  it.each(cases)('%s written %j breaks %j', async (name, text, broken) => {
    expect(await brokenByCells(withCell(5, name, text))).toEqual(broken);
  });

  it('of the right value in another form', async () => {
    const battery = cells[5]?.[at('battery_pct')] ?? '';
    for (const [text, broken] of [
      [`0${battery}`, ['schema.rows', 'csv.numbers']],
      [`${Number(battery) / 10}e1`, ['schema.rows', 'csv.numbers']],
      [`+${battery}`, ['schema.rows', 'csv.numbers']],
      [`${battery}.0`, []],
    ] as const) {
      expect(await brokenByCells(withCell(5, 'battery_pct', text))).toEqual(broken);
    }
    const seq = cells[5]?.[at('seq')] ?? '';
    expect(await brokenByCells(withCell(5, 'seq', `00${seq}`))).toEqual(['schema.rows', 'csv.numbers']);
  });

  it('absent and zero are told apart, with both texts in the example', async () => {
    const none = cells.findIndex((record) => record[at('latitude')] === '');
    const results = await judge(csvBytes(contract, withCell(none, 'latitude', '0')));
    expect(ids(results, 'broken')).toEqual(['values.absent']);
    expect(results.get('values.absent')?.findings).toMatchObject([
      { count: 1, examples: [{ record: none + 2, column: 'latitude', expected: '', found: '0' }] },
    ]);
  });
});

describe('the file', () => {
  const text = good.toString();
  const lines = text.split('\r\n');
  const cases: Record<string, readonly [Buffer, readonly string[]]> = {
    'with a byte order mark': [Buffer.from(`\ufeff${text}`), ['csv.form']],
    'with LF ends': [Buffer.from(text.replaceAll('\r\n', '\n')), ['csv.form']],
    'without its last line end': [good.subarray(0, -2), []],
    'ended with half a line end': [good.subarray(0, -1), ['csv.form']],
    'with needless quotes': [Buffer.from(text.replaceAll(/(?<=,)gnss(?=,)/g, '"gnss"')), []],
    'with an extra column': [
      Buffer.from(
        lines.map((line, k) => (line === '' ? '' : `${line},${k === 0 ? 'more' : ''}`)).join('\r\n'),
      ),
      ['schema.rows', 'csv.header'],
    ],
    'with another name': [Buffer.from(text.replace('label', 'Label')), ['csv.header']],
    'with another order of names': [Buffer.from(text.replace('clock,fix', 'fix,clock')), ['csv.header']],
    'without a header': [
      csvBytes(contract, cells).subarray((lines[0]?.length ?? 0) + 2),
      ['ingest.complete', 'csv.header'],
    ],
    'whose last row lacks its last cell': [
      Buffer.from(`${text.slice(0, text.lastIndexOf(','))}\r\n`),
      ['schema.rows', 'csv.form'],
    ],
    'with a column less': [
      csvBytes(
        { ...contract, columns: contract.columns.slice(0, -1) },
        cells.map((record) => record.slice(0, -1)),
      ),
      ['schema.rows', 'csv.header'],
    ],
  };
  it.each(Object.entries(cases))('%s', async (_, [bytes, broken]) => {
    expect(await brokenBy(bytes)).toEqual(broken);
  });

  it('cut in the middle of a row', async () => {
    const found = await brokenBy(good.subarray(0, good.lastIndexOf(',', good.length - 40)));
    expect(found).toEqual(['schema.rows', 'csv.form']);
  });

  it('in latin-1', async () => {
    const accents = scenarioOf({
      seed: 'latin',
      lasts: '2min',
      fleet: [{ name: 'one', count: 1, labels: ['Café'], motion: { kind: 'parked', at: 'ostrel-quay' } }],
    });
    const ideal = csvBytes(contract, cellsOf(idealRows(accents, contract)));
    const latin = await judged({
      scenario: accents,
      contract,
      whole: Buffer.from(ideal.toString(), 'latin1'),
    });
    expect(ids(latin, 'broken')).toEqual(['csv.form', 'values.text']);
  });
});

describe('batches', () => {
  const outage = scenarioOf({
    seed: 'batch',
    lasts: '20min',
    fleet: [
      {
        name: 'one',
        count: 1,
        labels: ['a'],
        motion: { kind: 'parked', at: 'ostrel-quay' },
        report: { every: '60s' },
        buffer: { batchOf: 5, flush: 'oldest-first' },
      },
    ],
    faults: [{ kind: 'no-coverage', from: '3min', until: '10min', on: 'everyone' }],
  });
  const ideal = idealRows(outage, contract);
  const batch = ideal.find(({ emission }) => emission.readings.length > 2)?.emission;
  const torn = ideal.filter(({ reading }) => reading !== batch?.readings[1]);
  const without = ideal.filter(({ emission }) => emission !== batch);
  const judgeRows = (some: typeof ideal, dueOf?: DueOf, promise = contract) =>
    judged({
      scenario: outage,
      contract: promise,
      whole: csvBytes(promise, cellsOf(some)),
      ...(dueOf ? { dueOf } : {}),
    });

  it('whole are held', async () => {
    expect(batch?.readings.length).toBeGreaterThan(2);
    const results = await judgeRows(ideal);
    expect(ids(results, 'broken')).toEqual([]);
    expect(results.get('ingest.batches-whole')?.outcome).toBe('held');
  });

  it('torn are broken, with the reading that is missing', async () => {
    const results = await judgeRows(torn);
    expect(ids(results, 'broken')).toEqual(['ingest.complete', 'ingest.batches-whole']);
    expect(results.get('ingest.batches-whole')?.findings).toMatchObject([
      { count: 1, examples: [{ seq: batch?.readings[1]?.seq }] },
    ]);
  });

  it('torn are broken even where nobody saw the message accepted: one row proves that it was', async () => {
    expect(ids(await judgeRows(torn, () => 'may'), 'broken')).toEqual(['ingest.batches-whole']);
  });

  it('lost whole are not torn', async () => {
    expect(ids(await judgeRows(without), 'broken')).toEqual(['ingest.complete']);
  });

  it('may be refused in part where the contract lets late readings be refused', async () => {
    const lateFirst = ideal.filter(({ reading }) => reading !== batch?.readings[0]);
    const impatient = { ...contract, latenessMs: 1000 };
    const late: DueOf = (_, { atMs }, reading) => (atMs - reading.atMs > 1000 ? 'may' : 'must');
    expect(ids(await judgeRows(lateFirst, late, impatient), 'broken')).toEqual([]);
  });
});

describe('contracts of other shapes', () => {
  const parse = (text: string) => parseContract(`wayproof: contract/1\ntitle: t\n${text}`, 'c.yaml');
  const idealOf = (promise: typeof contract) => csvBytes(promise, cellsOf(idealRows(scenario, promise)));

  it('without a header: columns by position', async () => {
    const bare = { ...contract, csv: { ...contract.csv, header: false } };
    const results = await judged({ scenario, contract: bare, whole: idealOf(bare) });
    expect(ids(results, 'broken')).toEqual([]);
    expect(results.get('csv.header')).toMatchObject({
      outcome: 'not-seen',
      words: 'the contract promises no header',
    });
    const wider = await judged({
      scenario,
      contract: bare,
      whole: csvBytes(
        bare,
        cells.map((record) => [...record, '1']),
      ),
    });
    expect(ids(wider, 'broken')).toEqual(['schema.rows']);
    const [finding] = wider.get('schema.rows')?.findings ?? [];
    expect(finding?.count).toBe(10);
    expect(finding?.examples[0]).toMatchObject({ record: 1, column: 'column 24', found: '1' });
  });

  it('without a header or a row: an empty file says that nothing is there', async () => {
    const bare = { ...contract, csv: { ...contract.csv, header: false } };
    const results = await judged({
      scenario,
      contract: bare,
      whole: new Uint8Array(),
      dueOf: () => 'never',
    });
    expect(ids(results, 'broken')).toEqual([]);
    expect(ids(results, 'held')).toEqual([]);
  });

  it('with sequence numbers alone, or time alone, as identity', async () => {
    const columns = `columns:
  - { name: id, field: id }
  - { name: seq, field: seq }
  - { name: at, field: at, as: epoch-s, secondDecimals: 0 }
  - { name: temp, field: airTempC }
`;
    for (const identity of ['[id, seq]', '[id, at]', '[id, seq, at]']) {
      const promise = parse(`${columns}identity: ${identity}\n`);
      const ideal = cellsOf(idealRows(scenario, promise));
      const results = await judged({ scenario, contract: promise, whole: csvBytes(promise, ideal) });
      expect([identity, ids(results, 'broken')]).toEqual([identity, []]);
      const twice = csvBytes(promise, [...ideal, ideal.at(-1) ?? []]);
      expect(ids(await judged({ scenario, contract: promise, whole: twice }), 'broken')).toEqual([
        'ingest.no-repeats',
      ]);
    }
  });

  it('without a tracker id cannot tell a fleet apart, and says so', async () => {
    const promise = parse(
      'columns: [{ name: seq, field: seq }, { name: at, field: at }]\nidentity: [seq, at]\n',
    );
    await expect(judged({ scenario, contract: promise, whole: idealOf(promise) })).rejects.toThrow(
      /expected a column with field id, for a fleet of 2 trackers, found none/,
    );
  });

  it('whose identity names no reading is bad input', async () => {
    const promise = parse('columns: [{ name: id, field: id }, { name: at, field: at }]\nidentity: [id]\n');
    await expect(judged({ scenario, contract: promise, whole: idealOf(promise) })).rejects.toThrow(
      /expected a column of boot, seq or at/,
    );
  });

  it('whose sequence numbers have decimals', async () => {
    const promise = {
      ...contract,
      columns: contract.columns.map((column) =>
        column.field === 'seq' && column.form.kind === 'number'
          ? { ...column, form: { ...column.form, decimals: 1 } }
          : column,
      ),
    };
    expect(ids(await judged({ scenario, contract: promise, whole: idealOf(promise) }), 'broken')).toEqual([]);
  });

  it('whose seconds are cut sort by what was measured or by what is written', async () => {
    const promise = parse(`columns:
  - { name: at, field: at, secondDecimals: 0 }
  - { name: id, field: id }
  - { name: seq, field: seq }
  - { name: boot, field: boot }
identity: [id, boot, seq]
order: [at, id]
`);
    const close = scenarioOf({
      seed: 'close',
      lasts: '4min',
      fleet: [
        {
          name: 'crates',
          count: 6,
          labels: ['a'],
          motion: { kind: 'parked', at: 'ostrel-quay' },
          report: { every: '60s', spread: '900ms' },
        },
      ],
    });
    const measured = idealRows(close, promise);
    const written = measured.toSorted((a, b) =>
      a.cells.slice(0, 2).join() < b.cells.slice(0, 2).join() ? -1 : 1,
    );
    const bytes = [measured, written, measured.toReversed()].map((some) => csvBytes(promise, cellsOf(some)));
    const broken = [];
    for (const whole of bytes)
      broken.push(ids(await judged({ scenario: close, contract: promise, whole }), 'broken'));
    expect(cellsOf(measured)).not.toEqual(cellsOf(written));
    expect(broken).toEqual([[], [], ['ordering.rows', 'ordering.tracker']]);
  });

  it('that puts the newest first', async () => {
    const promise = {
      ...contract,
      order: [{ column: 'measured_at', direction: 'falling' as const }, ...contract.order.slice(1)],
    };
    expect(ids(await judged({ scenario, contract: promise, whole: idealOf(promise) }), 'broken')).toEqual([]);
    expect(ids(await judged({ scenario, contract: promise, whole: good }), 'broken')).toEqual([
      'ordering.rows',
      'ordering.tracker',
    ]);
  });

  it('that sorts by guarded text, or by a value that may be absent', async () => {
    const mixed = scenarioOf({
      seed: 'mixed',
      lasts: '3min',
      fleet: [
        {
          name: 'crates',
          count: 4,
          labels: ['=1', '+4', '007', 'a'],
          motion: { kind: 'parked', at: 'ostrel-quay' },
        },
      ],
    });
    for (const order of ['label', 'latitude']) {
      const promise = {
        ...contract,
        order: [{ column: order, direction: 'rising' as const }],
        perTracker: 'none' as const,
        csv: { ...contract.csv, formulaGuard: "'" },
      };
      const ideal = idealRows(mixed, promise);
      const of = (some: typeof ideal) =>
        judged({ scenario: mixed, contract: promise, whole: csvBytes(promise, cellsOf(some)) });
      expect(ids(await of(ideal), 'broken')).toEqual([]);
      expect(ids(await of(ideal.toReversed()), 'broken')).toEqual(['ordering.rows']);
    }
  });

  it('that lets repeats stand judges the repeats too', async () => {
    const promise = { ...contract, repeats: 'keep' as const };
    const whole = (repeat: readonly string[]) => csvBytes(promise, cells.toSpliced(5, 0, repeat));
    const same = await judged({ scenario, contract: promise, whole: whole(cells[4] ?? []) });
    expect(ids(same, 'broken')).toEqual([]);
    expect(same.get('ingest.no-repeats')?.words).toBe('the contract lets repeats stand');
    const other = cells[4]?.with(at('battery_pct'), '3') ?? [];
    expect(ids(await judged({ scenario, contract: promise, whole: whole(other) }), 'broken')).toEqual([
      'values.numbers',
    ]);
  });
});

it('every reading of the fleet is due once', () => {
  const sent = rosterOf(scenario).flatMap((spec) =>
    [...trackerEvents(scenario, spec)].flatMap((event) => (event.kind === 'emission' ? event.readings : [])),
  );
  expect(sent).toHaveLength(rows.length);
});
