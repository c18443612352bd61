// Why rows stand in another order than promised: the order that they do follow is looked for.
import type { Column } from '../contract/contract.ts';
import type { Hop } from '../verdict/verdict.ts';
import type { Fit, Hypothesis } from './hypothesis.ts';
import type { RowInstance } from './instances.ts';
import { timesOf } from '../checks/cell.ts';
import { zoneOf } from './instants.ts';

/** Below zero where the row belongs after the one before it, above where it belongs first; 0 for a tie. */
type Compare = (before: readonly string[], cells: readonly string[], columns: readonly Column[]) => number;

interface Sorted {
  readonly say: string;
  /** undefined where a pair says nothing. */
  readonly compare: (row: RowInstance) => number | undefined;
  /** Whether rows that tie may stand in any order, as those of one message may. */
  readonly ties?: boolean;
}

/** A column as the contract sorts it. */
function natural(column: Column): (cell: string) => number | string {
  const { form } = column;
  if (form.kind === 'number') return Number;
  if (form.kind === 'text') return (cell) => cell;
  return (cell) => timesOf(cell, form, zoneOf(form.zone))[0] ?? Number.NaN;
}

function compareValues(a: number | string, b: number | string): number {
  if (typeof a === 'number' && typeof b === 'number') return a - b;
  return Buffer.compare(Buffer.from(String(a)), Buffer.from(String(b)));
}

/** By columns, one after another. */
function by(names: readonly string[], how: 'natural' | 'text' = 'natural'): Compare {
  return (before, cells, columns) => {
    for (const name of names) {
      const at = columns.findIndex((column) => column.name === name);
      const column = columns[at];
      if (!column) return 0;
      const value = how === 'text' ? (cell: string): string => cell : natural(column);
      const order = compareValues(value(before[at] ?? ''), value(cells[at] ?? ''));
      if (order !== 0) return order;
    }
    return 0;
  };
}

function onRow(compare: Compare, sign = 1): Sorted['compare'] {
  return ({ before, cells, columns }) => before && sign * compare(before, cells, columns);
}

/** The columns that the contract sorts by; where the row doesn't say, its time and then its identity. */
function keysOf({ order, columns }: RowInstance): readonly string[] {
  if (order && order.length > 0) return order.map(({ column }) => column);
  return ['at', 'id', 'boot', 'seq'].flatMap(
    (field) => columns.find((column) => column.field === field)?.name ?? [],
  );
}

/** An order that all the rows keep, the broken ones and the sound ones. */
function follows(
  name: string,
  words: string,
  hop: Hop,
  candidates: (example: RowInstance) => readonly Sorted[],
): Hypothesis<RowInstance> {
  return {
    name,
    words,
    hop,
    fit(broken, sound) {
      const [example] = broken;
      if (!example) return undefined;
      // A row that follows the one before as promised is out of order by what was measured: its values are wrong.
      const promised = onRow(by(keysOf(example)), signOf(example));
      const isAgainst = (row: RowInstance): boolean => (promised(row) ?? 0) >= 0;
      let best: { fit: Fit<RowInstance>; kept: number } | undefined;
      for (const { say, compare, ties = false } of candidates(example)) {
        const places = [...broken, ...sound].flatMap((row) => compare(row) ?? []);
        const against = places.filter((place) => !(place <= 0)).length;
        const kept = broken.filter((row) => isAgainst(row) && (compare(row) ?? 0) < 0).length;
        // A few exceptions are another cause; half of them are no order at all.
        if (kept === 0 || against > 0.05 * places.length || (best && kept <= best.kept)) continue;
        const fit: Fit<RowInstance> = {
          covers: (row) => (compare(row) ?? 1) < (ties ? Number.MIN_VALUE : 0),
          wouldBreak: (row) => (compare(row) ?? 0) > 0,
          exact: true,
          evidence: `${places.length - against} of ${places.length} rows stand ${say}, ${kept} of the ${broken.length} wrong ones strictly`,
          ...(sound.length < 3 ? { atMost: 'likely' as const } : {}),
        };
        best = { fit, kept };
      }
      return best?.fit;
    },
  };
}

const ARRIVAL_ORDER = follows(
  'arrival-order',
  'Rows stand in the order in which their messages came in: sort by the promised columns when exporting, or keep one consumer per tracker.',
  'export',
  () => [
    {
      say: 'in order of arrival',
      ties: true,
      compare: ({ arrival = -1, arrivalBefore = -1 }) =>
        arrival < 0 || arrivalBefore < 0 ? undefined : arrivalBefore - arrival,
    },
  ],
);

const REVERSED = follows('reversed', 'Rows are sorted the other way round.', 'export', (example) => {
  const keys = keysOf(example);
  const sign = -signOf(example);
  const [first] = keys;
  return first === undefined
    ? []
    : [
        { say: `by ${keys.join(', ')} in the other direction`, compare: onRow(by(keys), sign) },
        { say: `by ${first} in the other direction`, compare: onRow(by([first]), sign) },
      ];
});

function signOf({ order }: RowInstance): 1 | -1 {
  return order?.[0]?.direction === 'falling' ? -1 : 1;
}

const AS_TEXT = follows(
  'sorted-as-text',
  'Rows are sorted by the text of a number, so that 10 comes before 9: sort by the number.',
  'export',
  (example) => {
    const keys = keysOf(example);
    const numbers = keys.filter(
      (key) => example.columns.find(({ name }) => name === key)?.form.kind === 'number',
    );
    return [
      { say: 'by the text of the promised columns', compare: onRow(by(keys, 'text'), signOf(example)) },
      ...numbers.map((key) => ({
        say: `by the text of ${key}`,
        compare: onRow(by([key], 'text')),
      })),
    ];
  },
);

const OTHER_KEYS = follows(
  'other-keys-first',
  'Rows are sorted by the promised columns in another order of importance, or by another column.',
  'export',
  (example) => {
    const keys = keysOf(example);
    const later = keys.slice(1);
    const others = example.columns.map(({ name }) => name).filter((name) => !keys.includes(name));
    return [...later, ...others].flatMap((first) => {
      const rest = keys.filter((key) => key !== first);
      return [
        { say: `by ${first} first, then by ${rest.join(', ')}`, compare: onRow(by([first, ...rest])) },
        { say: `by ${first} first`, compare: onRow(by([first])) },
      ];
    });
  },
);

const SECOND_MS = 1000;

/** Whether a row has the first key of the row before: the same value, or the same second. */
function ties(how: 'value' | 'second'): (row: RowInstance) => boolean {
  return (row) => {
    const [first] = keysOf(row);
    const at = row.columns.findIndex(({ name }) => name === first);
    const column = row.columns[at];
    if (!row.before || !column) return false;
    const value = natural(column);
    const [a, b] = [value(row.before[at] ?? ''), value(row.cells[at] ?? '')];
    if (how === 'value') return compareValues(a, b) === 0;
    if (column.form.kind !== 'time' || typeof a !== 'number' || typeof b !== 'number') return false;
    return Math.floor(a / SECOND_MS) === Math.floor(b / SECOND_MS);
  };
}

const TIES: Hypothesis<RowInstance> = {
  name: 'ties-unsorted',
  words:
    'Rows with the same time, or of the same second, stand in no order: sort by the full time, and name the further columns.',
  hop: 'export',
  fit(broken, sound) {
    const [example] = broken;
    if (!example) return undefined;
    const promised = onRow(by(keysOf(example)), signOf(example));
    const tiedBy = (how: 'value' | 'second') => {
      const isTied = ties(how);
      return (row: RowInstance): boolean => isTied(row) && (promised(row) ?? 0) >= 0;
    };
    const countOf = (how: 'value' | 'second') => broken.filter(tiedBy(how)).length;
    const how = countOf('second') > countOf('value') ? 'second' : 'value';
    const tied = tiedBy(how);
    const count = countOf(how);
    if (count === 0) return undefined;
    const kept = sound.filter(ties(how)).length;
    const key = keysOf(example)[0] ?? 'key';
    const same =
      how === 'value' ? `the same ${key} as the row before` : `a ${key} in the same second as the row before`;
    return {
      covers: tied,
      // In no order, some pairs stand right by chance.
      wouldBreak: () => false,
      evidence: `${count} of ${broken.length} rows have ${same}; ${kept} other such rows stand right`,
    };
  },
};

export const ORDER_HYPOTHESES: readonly Hypothesis<RowInstance>[] = [
  REVERSED,
  AS_TEXT,
  ARRIVAL_ORDER,
  OTHER_KEYS,
  TIES,
];

/** For rows that change places between two exports; `before` is the row that stood in the place. */
export const STABLE_HYPOTHESES: readonly Hypothesis<RowInstance>[] = [
  {
    name: 'unstable-order',
    words:
      'The order of rows is left to the database or to chance: sort by columns that tell every row apart.',
    hop: 'export',
    fit(broken) {
      const [example] = broken;
      if (!example) return undefined;
      const keys = keysOf(example);
      const tied = broken.filter(
        ({ before, cells, columns }) => before && by(keys.slice(0, 1))(before, cells, columns) === 0,
      ).length;
      return {
        covers: () => true,
        wouldBreak: () => false,
        exact: true,
        evidence: `${broken.length} rows changed places, ${tied} of them with a row of the same ${keys[0] ?? 'key'}`,
      };
    },
  },
];
