// Every cell equals what was measured, as the contract promises to write it.
import type { Emission, Reading } from '../../sim/index.ts';
import type { Column, Contract } from '../contract/contract.ts';
import {
  ABSENT_HYPOTHESES,
  CausedCollector,
  FORM_HYPOTHESES,
  NUMBER_HYPOTHESES,
  Sample,
  TEXT_HYPOTHESES,
  TIME_HYPOTHESES,
  type CellInstance,
  type Hypothesis,
} from '../diagnose/index.ts';
import type { CheckResult, Family } from '../verdict/verdict.ts';
import { cellJudge, type CellFault, type CellJudge } from './cell.ts';
import { exampleOfRow, expectedOf, notSeen, result, type CheckAbout, type Row } from './check.ts';

interface Watch {
  readonly about: CheckAbout;
  readonly faults: readonly CellFault[];
  /** Which kinds of column it looks at. */
  readonly kinds: readonly ('number' | 'text' | 'time')[];
}

function watch(
  id: string,
  family: Family,
  promise: string,
  cannotProve: string,
  kinds: Watch['kinds'],
  faults: readonly CellFault[],
): Watch {
  return {
    about: {
      id,
      family,
      promise,
      proves: 'each cell of the columns named, for every row found',
      cannotProve,
    },
    faults,
    kinds,
  };
}

const WATCHES: readonly Watch[] = [
  watch(
    'values.numbers',
    'values',
    'every number equals what was measured, within the promised precision',
    'a change smaller than the precision that the contract promises',
    ['number'],
    ['number'],
  ),
  watch(
    'values.text',
    'values',
    'every text is intact to the last character',
    'a change of text that the tracker itself made before sending',
    ['text'],
    ['text'],
  ),
  watch(
    'values.time',
    'values',
    'every time is the time measured, in the promised zone',
    'which of two instants a local time means in the hour that a clock change repeats',
    ['time'],
    ['time'],
  ),
  watch(
    'values.absent',
    'values',
    'absent, empty and zero are told apart',
    'anything about columns that can never be absent',
    ['number', 'time'],
    ['absent'],
  ),
  watch(
    'csv.numbers',
    'csv',
    'numbers and times are written as promised, readable by any program',
    'how a particular spreadsheet shows them',
    ['number', 'time'],
    ['form'],
  ),
];

export const VALUE_ABOUTS: readonly CheckAbout[] = WATCHES.map(({ about }) => about);

/** Compares cells; serves the five checks that rest on comparing cells. */
export class Values {
  readonly #judges: readonly { readonly index: number; readonly judge: CellJudge }[];
  readonly #columns: readonly Column[];
  readonly #broken = new Map<string, CausedCollector<CellInstance>>();
  /** Some rows, for contrast when cells break. */
  readonly #someRows = new Sample<RowContext>(500);
  readonly #lastOf = new Map<string, Reading>();
  #last: Reading | undefined;
  readonly #repeatsStand: boolean;
  #rows = 0;
  /** Rows that repeat a reading too far back to be compared. */
  #forgotten = 0;

  constructor(contract: Contract) {
    this.#repeatsStand = contract.repeats === 'keep';
    this.#columns = contract.columns;
    this.#judges = contract.columns.flatMap((column, index) => {
      const judge = cellJudge(column, contract.csv.formulaGuard);
      return judge ? [{ index, judge }] : [];
    });
  }

  /** How many cells of a row differ from a reading. */
  misfit(cells: readonly string[], reading: Reading): number {
    let count = 0;
    for (const { index, judge } of this.#judges) {
      const cell = cells[index];
      if (cell === undefined || judge.judge(cell, reading) !== undefined) count += 1;
    }
    return count;
  }

  row(row: Row): void {
    const expected = expectedOf(row);
    if (!expected) {
      if (row.found?.kind === 'again' && this.#repeatsStand) this.#forgotten += 1;
      return;
    }
    this.#rows += 1;
    let { reading } = expected;
    for (const twin of expected.twins) {
      if (this.misfit(row.cells, twin) < this.misfit(row.cells, reading)) reading = twin;
    }
    const context: RowContext = {
      reading,
      emission: expected.emission,
      before: this.#lastOf.get(row.trackerId),
      rowBefore: this.#last,
      cells: row.cells,
    };
    this.#someRows.add(context);
    for (const { index, judge } of this.#judges) {
      const cell = row.cells[index];
      // A row that is too short is told by csv.form.
      if (cell === undefined) continue;
      const fault = judge.judge(cell, reading);
      if (fault === undefined) continue;
      this.#collector(fault, judge).add(row.trackerId, () => ({
        instance: this.#instance(judge, cell, context),
        example: {
          ...exampleOfRow(row),
          column: judge.column.name,
          expected: judge.expected(reading),
          found: cell,
        },
      }));
    }
    this.#lastOf.set(row.trackerId, reading);
    this.#last = reading;
  }

  #instance(judge: CellJudge, cell: string, context: RowContext): CellInstance {
    const { reading, emission, before, rowBefore, cells } = context;
    return {
      column: judge.column,
      cell,
      expected: judge.expected(reading),
      reading,
      emission,
      before,
      cells,
      columns: this.#columns,
      ...(rowBefore ? { rowBefore } : {}),
    };
  }

  #collector(fault: CellFault, judge: CellJudge): CausedCollector<CellInstance> {
    const key = `${fault} ${judge.column.name}`;
    let collector = this.#broken.get(key);
    if (!collector) {
      collector = new CausedCollector(`${judge.column.name}: ${WORDS[fault]}`, 'pipeline', HYPOTHESES[fault]);
      this.#broken.set(key, collector);
    }
    return collector;
  }

  /** Cells of the column that are as promised. */
  #soundCells(judge: CellJudge, index: number): CellInstance[] {
    return this.#someRows.items.flatMap((context) => {
      const cell = context.cells[index];
      const sound = cell !== undefined && judge.judge(cell, context.reading) === undefined;
      return sound ? [this.#instance(judge, cell, context)] : [];
    });
  }

  end(): CheckResult[] {
    const apart =
      this.#forgotten === 0 ? '' : `; ${this.#forgotten} repeats stand too far from the first to be compared`;
    return WATCHES.map(({ about, faults, kinds }) => {
      const columns = this.#judges.filter(({ judge }) => kinds.includes(judge.column.form.kind));
      const names = new Set(columns.map(({ judge }) => judge.column.name));
      if (names.size === 0) return notSeen(about, 'the contract names no such column');
      const findings = columns.flatMap(({ index, judge }) =>
        faults.flatMap((fault) => {
          const broken = this.#broken.get(`${fault} ${judge.column.name}`);
          return broken?.findings(this.#soundCells(judge, index)) ?? [];
        }),
      );
      return result(
        about,
        this.#rows * names.size,
        this.#rows === 0
          ? 'no row could be matched with a reading'
          : `${this.#rows} rows, ${names.size} ${names.size === 1 ? 'column' : 'columns'}${apart}`,
        findings,
      );
    });
  }
}

/** A row that was matched, with what stood before it. */
interface RowContext {
  readonly reading: Reading;
  /** The message it came in. */
  readonly emission: Emission;
  /** The reading in the same tracker's row before. */
  readonly before: Reading | undefined;
  /** The reading in the row before, of whatever tracker. */
  readonly rowBefore: Reading | undefined;
  readonly cells: readonly string[];
}

const HYPOTHESES: Readonly<Record<CellFault, readonly Hypothesis<CellInstance>[]>> = {
  number: NUMBER_HYPOTHESES,
  text: TEXT_HYPOTHESES,
  time: TIME_HYPOTHESES,
  absent: ABSENT_HYPOTHESES,
  form: FORM_HYPOTHESES,
};

const WORDS: Readonly<Record<CellFault, string>> = {
  number: 'another number than was measured',
  text: 'another text than was sent',
  time: 'another time than was measured',
  absent: 'present where nothing was measured, or absent where something was',
  form: 'the right value, written otherwise than promised',
};
