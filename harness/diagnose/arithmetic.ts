// Changes of a number that leave a number: what a cell holds against what it should.
import type { CellInstance } from './instances.ts';
import type { Change } from './cells.ts';

export interface Pair {
  /** Expected. */
  readonly e: number;
  /** Found. */
  readonly v: number;
}

/** undefined where either isn't a number. */
export function pairOf({ expected, cell }: CellInstance): Pair | undefined {
  if (cell.trim() === '' || expected.trim() === '') return undefined;
  const pair = { e: Number(expected), v: Number(cell) };
  return Number.isFinite(pair.e) && Number.isFinite(pair.v) ? pair : undefined;
}

export function pairsOf(cells: readonly CellInstance[]): Pair[] {
  return cells.flatMap((cell) => pairOf(cell) ?? []);
}

/** Difference that the contract allows in the cell's column. */
function allowed({ column }: CellInstance): number {
  return column.form.kind === 'number' ? column.form.within : 0;
}

/** Doubles differ in their last bits where a pipeline's steps do. */
const BITS = 1e-12;

export function isClose(a: number, b: number, within = 0): boolean {
  return Math.abs(a - b) <= within + BITS * Math.max(Math.abs(a), Math.abs(b), Number.MIN_VALUE);
}

/** A change of numbers by a function. `within`: how far the result may be rounded. */
export function numberChange(say: string, of: (e: number) => number, within = 0): Change {
  return numberTest(say, ({ e, v }) => isClose(v, of(e), within), of, within);
}

/** The same where what fits can't be told by one result. `of` still tells whether a sound cell would change. */
export function numberTest(
  say: string,
  fits: (pair: Pair) => boolean,
  of: (e: number) => number,
  within = 0,
): Change {
  return {
    say,
    explains: (cell) => {
      const pair = pairOf(cell);
      return pair !== undefined && fits(pair);
    },
    wouldBreak: (cell) => {
      const pair = pairOf(cell);
      return pair !== undefined && !isClose(of(pair.e), pair.e, allowed(cell) + 1.01 * within);
    },
  };
}

/** Digits after the point, as the text has them. */
export function decimalsOf(text: string): number {
  const match = /^[-+]?\d*(?:\.(\d*))?$/.exec(text.trim());
  return match?.[1]?.length ?? 0;
}

/** Half a unit of the last place that the cells are written to: how far a result may have been rounded. */
export function halfPlace(cells: readonly CellInstance[]): number {
  const places = Math.max(0, ...cells.map(({ cell }) => decimalsOf(cell)));
  return places > 12 ? 0 : 0.5 * 10 ** -places * (1 + 1e-9);
}

/** Whether a value stands on the grid of so many decimals. */
export function isOnGrid(value: number, decimals: number): boolean {
  const scaled = value * 10 ** decimals;
  return Math.abs(scaled - Math.round(scaled)) <= 1e-6 && Math.abs(scaled) < 2 ** 53;
}
