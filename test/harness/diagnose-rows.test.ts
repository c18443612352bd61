// Rows that shouldn't be there, stand in the wrong place or in the wrong window; flaws of form; headers.
import { describe, expect, it } from 'vitest';
import { defaultContract } from '../../harness/contract/read-contract.ts';
import {
  causeOfFlaw,
  causeOfHeader,
  diagnose,
  INVENTED_HYPOTHESES,
  ORDER_HYPOTHESES,
  REPEAT_HYPOTHESES,
  STABLE_HYPOTHESES,
  WINDOW_HYPOTHESES,
  type ReadingInstance,
  type RowInstance,
  type WindowInstance,
} from '../../harness/diagnose/index.ts';
import { HOUR_MS } from '../../sim/index.ts';
import { EXPORTED, rowsOf, SENT, split } from './diagnose-support.ts';

const CONTRACT = defaultContract();
const NAMES = CONTRACT.columns.map(({ name }) => name);
const ROWS = rowsOf(EXPORTED);

const first = (row: RowInstance, cell: string): RowInstance => ({ ...row, cells: row.cells.with(0, cell) });
const some = ROWS.filter((_, k) => k % 400 === 7);

describe('rows of no reading', () => {
  const blank = (...cells: readonly string[]): readonly string[] => NAMES.map((_, k) => cells[k] ?? '');
  const row = some[0];
  const id = row?.cells[0] ?? '';

  it.each([
    ['header-repeated', some.map((one) => ({ ...one, cells: NAMES })), /names of the columns/],
    [
      'leading-zeros-lost',
      some.map((one) => first(one, (one.cells[0] ?? '').replace(/^0+/, ''))),
      /without its zeros/,
    ],
    ['exponent-id', some.map((one) => first(one, '1.01E+12')), /scientific notation/],
    ['formula-guard', some.map((one) => first(one, `'${one.cells[0]}`)), /behind a sign/],
    ['padded', some.map((one) => first(one, `${one.cells[0]}  `)), /spaces around/],
    ['prefix', some.map((one) => first(one, `urn:gsma:imei:${one.cells[0]}`)), /more before or after/],
    ['text-cut', some.map((one) => first(one, (one.cells[0] ?? '').slice(0, 14))), /a part of one/],
    [
      'status-stored',
      some.map((one) => ({ ...one, cells: blank(id, '', '1', '', '2031-03-03T00:00:00.000Z') })),
      /nothing measured/,
    ],
    ['footer', some.slice(0, 3).map((one) => ({ ...one, cells: ['Total', '4280 rows'] })), /hardly a cell/],
    [
      'other-delimiter',
      some.map((one) => ({ ...one, cells: [one.cells.join(';')] })),
      /parted by ";" \d+ of \d+ rows/,
    ],
    ['thousands-separator', some.map((one) => ({ ...one, cells: one.cells.with(3, '1,234') })), /grouped/],
    [
      'beyond-2^53',
      some.map((one, k) => ({ ...one, cells: one.cells.with(3, String(2n ** 53n + 2n * BigInt(k))) })),
      /just what a double holds/,
    ],
    ['not-quoted', some.map((one) => ({ ...one, cells: [...one.cells, '5'] })), /another number of cells/],
  ] as const)('%s', (cause, broken, evidence) => {
    const { causes, unexplained } = diagnose(INVENTED_HYPOTHESES, broken, ROWS);
    expect(causes.map((one) => one.cause.name)).toEqual([cause]);
    expect(causes[0]?.cause.evidence).toMatch(evidence);
    expect(unexplained).toEqual([]);
  });

  it('rows with a foreign id have no cause', () => {
    const strangers = some.map((one) => first(one, '990000862471854'));
    expect(diagnose(INVENTED_HYPOTHESES, strangers, ROWS).causes).toEqual([]);
  });
});

describe('rows that repeat', () => {
  const doubled = (which: (k: number) => boolean, apart: (k: number) => number): RowInstance[] =>
    ROWS.flatMap((row, k) =>
      which(k) ? [{ ...row, record: row.record + apart(k), firstRecord: row.record }] : [],
    );

  it.each([
    [
      'page-edge',
      doubled(
        (k) => k % 100 === 0,
        () => 1,
      ),
      /100 records apart/,
    ],
    [
      'redelivery-stored',
      doubled(
        (k) => (k * k) % 37 === 1,
        (k) => 1 + (k % 3),
      ).map((row) => ({ ...row, sentAgain: true })),
      /more than once/,
    ],
    [
      'redelivery-stored',
      doubled(
        (k) => (k * k) % 37 === 1,
        (k) => 1 + (k % 3),
      ),
      /identity of a row before/,
    ],
    [
      'exported-twice',
      doubled(
        () => true,
        () => ROWS.length,
      ),
      /4280 records after their first/,
    ],
  ] as const)('%s', (cause, broken, evidence) => {
    const { causes } = diagnose(REPEAT_HYPOTHESES, broken, []);
    expect(causes[0]?.cause.name).toBe(cause);
    expect(causes[0]?.cause.evidence).toMatch(evidence);
    expect(causes[0]?.instances).toHaveLength(broken.length);
  });
});

describe('redelivered rows', () => {
  const repeats = ROWS.filter((_, k) => (k * k) % 37 === 1).map((row) => ({
    ...row,
    record: row.record + 1,
    firstRecord: row.record,
  }));
  const causesOf = (broken: readonly RowInstance[]) => diagnose(REPEAT_HYPOTHESES, broken, []).causes;

  it('that follow at once stand at the seams of no pages', () => {
    expect(causesOf(repeats.slice(0, 60)).map(({ cause }) => cause.name)).toEqual(['redelivery-stored']);
  });

  it('need not all be seen twice at the broker, if most are', () => {
    const [told, ...more] = causesOf(repeats.map((row, k) => ({ ...row, sentAgain: k % 3 > 0 })));
    expect(told?.cause).toMatchObject({ name: 'redelivery-stored', explains: 1, sure: 'likely' });
    expect(more).toEqual([]);
  });
});

describe('rows out of order', () => {
  const time = ({ expected }: ReadingInstance): number => expected.reading.atMs;
  const id = ({ expected }: ReadingInstance): string => expected.reading.id;
  const byText = (a: string, b: string): number => (a < b ? -1 : a > b ? 1 : 0);
  /** All trackers at the same instants, so that further keys decide. */
  const TIED: readonly ReadingInstance[] = EXPORTED.map((one) => {
    const { reading } = one.expected;
    const atMs = Math.floor(reading.atMs / 60_000) * 60_000;
    return { ...one, expected: { ...one.expected, reading: { ...reading, atMs } } };
  });
  const scrambled = TIED.toSorted((a, b) => time(a) - time(b) || (a.arrival % 7) - (b.arrival % 7));
  const seqFirst = {
    ...CONTRACT,
    order: ['tracker_id', 'boot', 'seq'].map((column) => ({ column, direction: 'rising' as const })),
  };

  it.each([
    ['arrival-order', rowsOf(SENT), CONTRACT, /in order of arrival/],
    ['reversed', rowsOf(EXPORTED.toReversed()), CONTRACT, /other direction/],
    [
      'other-keys-first',
      rowsOf(EXPORTED.toSorted((a, b) => byText(id(a), id(b)) || time(a) - time(b))),
      CONTRACT,
      /by tracker_id first, then by measured_at/,
    ],
    [
      'sorted-as-text',
      rowsOf(
        EXPORTED.toSorted(
          (a, b) =>
            byText(id(a), id(b)) ||
            a.expected.reading.boot - b.expected.reading.boot ||
            byText(String(a.expected.reading.seq), String(b.expected.reading.seq)),
        ),
        seqFirst,
      ),
      seqFirst,
      /by the text of the promised columns/,
    ],
    ['ties-unsorted', rowsOf(scrambled), CONTRACT, /the same measured_at as the row before/],
  ] as const)('%s', (cause, rows, contract, evidence) => {
    const [broken, sound] = split(rows, (row) =>
      isWrong(
        row,
        contract.order.map(({ column }) => NAMES.indexOf(column)),
      ),
    );
    expect(broken.length).toBeGreaterThan(5);
    const { causes } = diagnose(ORDER_HYPOTHESES, broken, sound);
    expect(causes[0]?.cause.name).toBe(cause);
    expect(causes[0]?.cause.evidence).toMatch(evidence);
    // Where no row stands right, there is nothing to compare with.
    expect(causes[0]?.cause.sure).toBe(cause === 'reversed' ? 'likely' : 'certain');
  });

  /** Whether a row belongs before the one before it; counters by number, all else by text. */
  function isWrong({ before, cells }: RowInstance, keys: readonly number[]): boolean {
    if (!before) return false;
    for (const k of keys) {
      const [a = '', b = ''] = [before[k], cells[k]];
      if (a === b) continue;
      return /^\d{1,9}$/.test(a) ? Number(a) > Number(b) : a > b;
    }
    return false;
  }

  it('ties within a second', () => {
    const rows = rowsOf(
      TIED.map((one, k) => {
        const { reading } = one.expected;
        const atMs = reading.atMs + ((k * 7919) % 1000);
        return { ...one, expected: { ...one.expected, reading: { ...reading, atMs } } };
      }),
    );
    const [broken, sound] = split(rows, (row) => isWrong(row, [NAMES.indexOf('measured_at')]));
    const { causes } = diagnose(ORDER_HYPOTHESES, broken, sound);
    expect(causes.map(({ cause }) => cause.name)).toEqual(['ties-unsorted']);
    expect(causes[0]?.cause.evidence).toMatch(/in the same second/);
  });

  it('rows whose order is as promised, but for wrong values, have no cause of their own', () => {
    const rows = rowsOf(EXPORTED);
    const broken = rows.filter((_, k) => k % 9 === 4);
    expect(diagnose(ORDER_HYPOTHESES, broken, rows).causes).toEqual([]);
  });

  it('unstable-order', () => {
    const { causes } = diagnose(STABLE_HYPOTHESES, rowsOf(TIED).slice(1, 50), []);
    expect(causes[0]?.cause).toMatchObject({
      name: 'unstable-order',
      evidence: expect.stringMatching(/changed places, \d+ of them with a row of the same measured_at/),
    });
  });
});

describe('rows of a window', () => {
  const start = EXPORTED[1000]?.expected.reading.atMs ?? 0;
  const [fromMs, toMs] = [start, start + 2 * HOUR_MS];
  // Rows at whole minutes, some of them just at the ends.
  const rows = Array.from({ length: 8 * 60 }, (_, k): WindowInstance => {
    const atMs = fromMs - 3 * HOUR_MS + k * 60_000;
    return {
      atMs,
      fromMs,
      toMs,
      kind: 'missing',
      rowsBefore: Math.max(0, k - 180),
      sentAtMs: atMs + (k % 10 === 0 ? HOUR_MS : 0),
    };
  });
  const belongs = ({ atMs }: WindowInstance): boolean => atMs >= fromMs && atMs < toMs;

  function judged(isIn: (row: WindowInstance) => boolean): [WindowInstance[], WindowInstance[]] {
    const broken = rows.flatMap((row): WindowInstance[] => {
      if (belongs(row) === isIn(row)) return [];
      return [{ ...row, kind: belongs(row) ? 'missing' : 'outside' }];
    });
    return [broken, rows.filter((row) => belongs(row) && isIn(row))];
  }

  it.each([
    [
      'from-excluded',
      (row: WindowInstance) => row.atMs > fromMs && row.atMs < toMs,
      /just at the beginning/,
      'possible',
    ],
    [
      'to-included',
      (row: WindowInstance) => row.atMs >= fromMs && row.atMs <= toMs,
      /just at the end/,
      'possible',
    ],
    [
      'window-shifted',
      (row: WindowInstance) => row.atMs >= fromMs + HOUR_MS && row.atMs < toMs + HOUR_MS,
      /ended 1h later/,
      'certain',
    ],
    [
      'window-shifted',
      (row: WindowInstance) => row.atMs >= fromMs - 5400_000 && row.atMs < toMs - 5400_000,
      /ended 1h30min earlier/,
      'certain',
    ],
    [
      'window-by-arrival',
      ({ sentAtMs = 0 }: WindowInstance) => sentAtMs >= fromMs && sentAtMs < toMs,
      /time of sending/,
      'certain',
    ],
    ['row-cap', (row: WindowInstance) => belongs(row) && row.rowsBefore < 100, /100 rows or more/, 'certain'],
  ] as const)('%s', (cause, isIn, evidence, sure) => {
    const [broken, sound] = judged(isIn);
    const { causes, unexplained } = diagnose(WINDOW_HYPOTHESES, broken, sound);
    expect(causes.map((one) => one.cause.name)).toEqual([cause]);
    expect(causes[0]?.cause).toMatchObject({ evidence: expect.stringMatching(evidence), sure });
    expect(unexplained).toEqual([]);
  });

  it('both ends at once', () => {
    const [broken, sound] = judged((row) => row.atMs > fromMs && row.atMs <= toMs);
    const { causes } = diagnose(WINDOW_HYPOTHESES, broken, sound);
    expect(causes.map((one) => one.cause.name).toSorted()).toEqual(['from-excluded', 'to-included']);
  });
});

describe('flaws of form', () => {
  it.each([
    ['bare-quote', 'not-quoted'],
    ['text-after-quote', 'not-quoted'],
    ['unclosed-quote', 'not-quoted'],
    ['record-too-long', 'not-quoted'],
    ['field-count', 'not-quoted'],
    ['wrong-line-end', 'line-ends'],
    ['bad-utf8', 'wrong-charset'],
    ['byte-order-mark', 'byte-order-mark'],
    ['cut-row', 'file-cut'],
    ['nul-byte', 'nul-byte'],
    ['empty-file', 'empty-file'],
  ] as const)('%s means %s', (kind, cause) => {
    expect(causeOfFlaw(kind, { kinds: new Map([[kind, 4]]), records: 100 })).toMatchObject({
      name: cause,
      evidence: '4 of 100 records',
    });
  });

  it('a wrong number of fields in every record is a trailing delimiter', () => {
    expect(causeOfFlaw('field-count', { kinds: new Map([['field-count', 99]]), records: 100 }).name).toBe(
      'trailing-delimiter',
    );
  });

  it('line ends within texts are a matter of quotes, where those are wrong', () => {
    const kinds = new Map([
      ['wrong-line-end', 9],
      ['bare-quote', 9],
    ] as const);
    expect(causeOfFlaw('wrong-line-end', { kinds, records: 100 })).toMatchObject({
      name: 'not-quoted',
      sure: 'likely',
    });
    expect(causeOfFlaw('wrong-line-end', { kinds, records: 9 }).name).toBe('line-ends');
  });

  it('quotes that are wrong in most rows leave a doubt', () => {
    const told = (count: number) =>
      causeOfFlaw('bare-quote', { kinds: new Map([['bare-quote', count]]), records: 100 }).sure;
    expect([told(10), told(90)]).toEqual(['certain', 'likely']);
  });

  it('bytes beyond UTF-8 beside NUL bytes are UTF-16', () => {
    const kinds = new Map([
      ['bad-utf8', 1],
      ['nul-byte', 9],
    ] as const);
    expect(causeOfFlaw('bad-utf8', { kinds, records: 10 })).toMatchObject({
      name: 'wrong-charset',
      words: expect.stringContaining('UTF-16'),
    });
  });
});

describe('headers', () => {
  it.each([
    ['header-renamed', NAMES.with(4, 'time'), /measured_at → time/],
    ['header-renamed', NAMES.map((name) => name.toUpperCase()), /TRACKER_ID/],
    ['columns-reordered', [...NAMES.slice(1), NAMES[0] ?? ''], /tracker_id$/],
    ['column-dropped', NAMES.filter((name) => name !== 'hdop'), /hdop/],
    ['column-added', [...NAMES, 'row_id'], /row_id/],
    ['column-added', ['row_id', ...NAMES], /row_id/],
    ['trailing-delimiter', [...NAMES, ''], /1 empty/],
    ['byte-order-mark', NAMES.with(0, `\ufeff${NAMES[0]}`), /FEFF/],
    ['other-delimiter', [NAMES.join(';')], /";"/],
    ['other-delimiter', [NAMES.join('\t')], /"\\t"/],
    ['header-missing', some[0]?.cells ?? [], /^\d{15}/],
  ] as const)('%s', (cause, found, evidence) => {
    const told = causeOfHeader(NAMES, found);
    expect(told?.name).toBe(cause);
    expect(told?.evidence).toMatch(evidence);
  });

  it('a right header has no cause, nor has a strange one', () => {
    expect(causeOfHeader(NAMES, NAMES)).toBeNull();
    expect(causeOfHeader(NAMES, ['a', 'b'])).toBeNull();
  });
});
