// Why absent, empty and zero are mixed up.
import type { Reading } from '../../sim/index.ts';
import type { Hypothesis } from './hypothesis.ts';
import type { CellInstance } from './instances.ts';
import { change, commonest, show } from './cells.ts';
import { SHIFTED_CELLS, writtenOf } from './displaced.ts';
import { ABSENT_WORD } from './unreadable.ts';

/** Whether nothing was measured. */
function isAbsent({ column, expected }: CellInstance): boolean {
  return column.nullAs !== null && expected === column.nullAs;
}

const isZero = (text: string): boolean => text.trim() !== '' && Number(text) === 0;

const AS_ZERO = change(
  'absent-as-zero',
  'What was not measured is written as 0: a default, a column that cannot be null, or a conversion of nothing.',
  'store',
  () => ({
    say: 'found = 0 where nothing was measured',
    explains: (cell) => isAbsent(cell) && isZero(cell.cell),
    wouldBreak: isAbsent,
  }),
);

const AS_TEXT = change(
  'absent-as-text',
  'What was not measured is written as a word: name the promised form of absence when writing.',
  'export',
  () => ({
    say: 'found is a word where nothing was measured',
    explains: (cell) => isAbsent(cell) && (ABSENT_WORD.test(cell.cell.trim()) || cell.cell === ''),
    wouldBreak: isAbsent,
  }),
);

const CARRIED_FORWARD = change(
  'carried-forward',
  'Where nothing was measured, the value before stands: look for a fill step, or an update that skips nulls.',
  'store',
  (broken) => {
    // Over a run of absent values the last present one is carried through all of them.
    const carried = new Map<Reading, string>();
    for (const cell of broken) {
      if (!isAbsent(cell) || !cell.before) continue;
      const written = writtenOf(cell.column, cell.before);
      const last = written === cell.column.nullAs ? carried.get(cell.before) : written;
      if (last === undefined || last === '') continue;
      if (cell.cell === last || Number(cell.cell) === Number(last)) carried.set(cell.reading, cell.cell);
    }
    return {
      say: "found = the tracker's value before",
      explains: (cell) => isAbsent(cell) && carried.has(cell.reading),
      wouldBreak: (cell) => {
        const written = isAbsent(cell) && cell.before && writtenOf(cell.column, cell.before);
        return typeof written === 'string' && written !== cell.column.nullAs;
      },
    };
  },
);

const AS_NUMBER = change(
  'absent-as-number',
  'What was not measured is written as a number that stands for nothing, or is a default.',
  'store',
  (broken) => {
    const numbers = broken
      .filter((cell) => isAbsent(cell) && cell.cell.trim() !== '')
      .map(({ cell }) => cell);
    const most = commonest(numbers);
    if (!most || most.count < 3 || Number.isNaN(Number(most.value))) return undefined;
    return {
      say: `found = ${show(most.value)} where nothing was measured`,
      explains: (cell) => isAbsent(cell) && cell.cell === most.value,
      wouldBreak: isAbsent,
    };
  },
);

const ZERO_AS_ABSENT = change(
  'zero-as-absent',
  'A measured 0 is written as absent: look for a test of truth where a test for null belongs.',
  'consumer',
  () => ({
    say: 'found is absent where 0 was measured',
    explains: ({ cell, column, expected }) =>
      isZero(expected) && (cell === column.nullAs || cell.trim() === ''),
    wouldBreak: ({ expected }) => isZero(expected),
    // Zero is the only value there is to show it.
    atMost: 'certain',
  }),
);

const BELOW_ZERO_AS_ABSENT = change(
  'below-zero',
  'Numbers below zero are written as absent: look for an unsigned type or a range check.',
  'consumer',
  () => ({
    say: 'found is absent where a number below zero was measured',
    explains: ({ cell, column, expected }) =>
      Number(expected) < 0 && (cell === column.nullAs || cell.trim() === ''),
    wouldBreak: ({ expected }) => Number(expected) < 0,
  }),
);

const LOST = change(
  'value-lost',
  'A measured value is written as absent: a name that does not match, or a conversion that fails.',
  'consumer',
  () => ({
    say: 'found is absent',
    explains: (cell) => !isAbsent(cell) && (cell.cell === cell.column.nullAs || cell.cell.trim() === ''),
    wouldBreak: (cell) => !isAbsent(cell),
  }),
);

/** Nothing is the only value there is to show these by. */
function alikeByNature(hypothesis: Hypothesis<CellInstance>): Hypothesis<CellInstance> {
  return {
    ...hypothesis,
    fit(broken, sound) {
      const fit = hypothesis.fit(broken, sound);
      return fit && { ...fit, atMost: 'certain' };
    },
  };
}

export const ABSENT_HYPOTHESES: readonly Hypothesis<CellInstance>[] = [
  ...SHIFTED_CELLS,
  AS_ZERO,
  AS_TEXT,
  AS_NUMBER,
  CARRIED_FORWARD,
  ZERO_AS_ABSENT,
  BELOW_ZERO_AS_ABSENT,
  LOST,
].map(alikeByNature);
