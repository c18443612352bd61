// Cells that hold a value that belongs elsewhere.
import type { Reading } from '../../sim/index.ts';
import { cellJudge, type CellJudge } from '../checks/cell.ts';
import type { Column } from '../contract/contract.ts';
import { bestChange, change, indexOf } from './cells.ts';
import type { CellInstance } from './instances.ts';

const judges = new WeakMap<Column, CellJudge | { readonly none: true }>();

/** How the contract writes a reading's value in a column; undefined for a column of the pipeline's own. */
export function writtenOf(column: Column, reading: Reading): string | undefined {
  let judge = judges.get(column);
  if (!judge) {
    judge = cellJudge(column, '') ?? { none: true };
    judges.set(column, judge);
  }
  return 'none' in judge ? undefined : judge.expected(reading);
}

/** Whether a cell holds this value, as text or as a number. */
function holds(cell: string, written: string | undefined): boolean {
  if (written === undefined || written === '') return false;
  return cell === written || (cell.trim() !== '' && Number(cell) === Number(written));
}

/** By how many cells every row is longer than the columns are; undefined where rows differ in that. */
function sameShift(cells: readonly CellInstance[]): number | undefined {
  const shiftOf = (cell: CellInstance): number => cell.cells.length - cell.columns.length;
  const [first] = cells;
  return first && cells.every((cell) => shiftOf(cell) === shiftOf(first)) ? shiftOf(first) : undefined;
}

/** Rows that all lack a cell: what should be there is no matter of the text in them. */
const COLUMN_DROPPED = change(
  'column-dropped',
  'A column is missing from every row, so that the cells after it moved along.',
  'export',
  (broken, sound) => {
    const by = sameShift([...broken, ...sound]) ?? 0;
    if (by >= 0) return undefined;
    return {
      say: 'every row has fewer cells than columns, and the value of a later column stands here,',
      explains: (cell) => {
        const later = cell.columns[indexOf(cell) - by];
        const written = later && writtenOf(later, cell.reading);
        return written !== undefined && (cell.cell === written || holds(cell.cell, written));
      },
    };
  },
);

/** A row with more or fewer cells than others, where a neighbour's cell has moved in. */
const NOT_QUOTED = change(
  'not-quoted',
  'A text with a delimiter or line break in it was written without quotes, so that the cells after it moved along.',
  'export',
  (broken, sound) =>
    (sameShift([...broken, ...sound]) ?? 0) < 0
      ? undefined
      : {
          say: 'the row has another number of cells than columns, and the value stands as many places along,',
          explains: (cell) => {
            const by = cell.cells.length - cell.columns.length;
            return by !== 0 && cell.cells[indexOf(cell) + by] === cell.expected;
          },
        },
);

export const SHIFTED_CELLS = [COLUMN_DROPPED, NOT_QUOTED];

export const DISPLACED = change(
  'columns-swapped',
  'The cell holds the value of another column: look at the order of arguments, of columns in an insert, or of axes.',
  'store',
  (broken) => {
    const [first] = broken;
    if (!first) return undefined;
    const own = indexOf(first);
    const candidates = first.columns.flatMap((other, k) => {
      if (k === own) return [];
      const moved = (cell: CellInstance) => {
        const written = writtenOf(other, cell.reading);
        return holds(cell.cell, written) && !holds(cell.expected, written);
      };
      const both = broken.some((cell) => moved(cell) && cell.cells[k] === cell.expected);
      return [
        {
          say: `${first.column.name} holds ${other.name}${both ? ', and the other way round,' : ''}`,
          explains: moved,
          wouldBreak: (cell: CellInstance) => {
            const written = writtenOf(other, cell.reading);
            return written !== undefined && written !== '' && !holds(cell.expected, written);
          },
        },
      ];
    });
    return bestChange(candidates, broken);
  },
);

/** A present value that was measured at another time, or by another tracker. */
export const OTHER_ROW = change(
  'other-rows-value',
  'The cell holds the value of another row: look for a variable or buffer that is used again, or a window function.',
  'store',
  (broken) => {
    const from = (of: (cell: CellInstance) => Reading | undefined, say: string) => ({
      say,
      explains: (cell: CellInstance) => {
        const reading = of(cell);
        return (
          reading !== undefined &&
          cell.cell !== cell.expected &&
          holds(cell.cell, writtenOf(cell.column, reading))
        );
      },
      wouldBreak: (cell: CellInstance) => {
        const reading = of(cell);
        const written = reading && writtenOf(cell.column, reading);
        return written !== undefined && written !== '' && !holds(cell.expected, written);
      },
    });
    return bestChange(
      [
        from(({ before }) => before, "found = the value of the tracker's reading before"),
        from(({ rowBefore }) => rowBefore, 'found = the value of the row before'),
      ],
      broken,
    );
  },
);
