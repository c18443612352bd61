// Numbers written so that a program can't read them as numbers.
import type { Hypothesis } from './hypothesis.ts';
import type { CellInstance } from './instances.ts';
import { change } from './cells.ts';

const DATE_SHAPED =
  /^\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}$|^\d{1,2}[-. ][A-Za-z]{3}(?:[-. ]\d{2,4})?$|^[A-Za-z]{3}[-. ]\d{2,4}$/;

export function isDateShaped(cell: string): boolean {
  return DATE_SHAPED.test(cell);
}

/** A number equal to the expected one, or rounded to the digits that are left. */
function same(text: string, expected: string): boolean {
  return text.trim() !== '' && expected !== '' && Number(text) === Number(expected);
}

const FORMULA_GUARD = change(
  'formula-guard',
  'A sign that stops spreadsheets from running formulas was put before it: leave numbers and the promised texts alone.',
  'export',
  () => ({
    say: 'found = a sign of its own, then expected,',
    explains: ({ cell, expected }) =>
      /^['\t\r ]/.test(cell) && same(cell.slice(1), expected) && /^[-+=@]/.test(expected),
    wouldBreak: ({ expected }) => /^[-+=@]/.test(expected),
  }),
);

const DECIMAL_COMMA = change(
  'decimal-comma',
  'Numbers are written with a decimal comma: the language setting of a program or database decides the format.',
  'export',
  () => ({
    say: 'found = expected with a comma for the point',
    explains: ({ cell, expected }) => /^[-+]?\d*,\d+$/.test(cell) && same(cell.replace(',', '.'), expected),
    wouldBreak: ({ expected }) => expected.includes('.'),
  }),
);

const THOUSANDS = change(
  'thousands-separator',
  'Digits are grouped by thousands, as for people to read: write numbers without grouping.',
  'export',
  () => ({
    say: 'found = expected with its digits grouped',
    explains: ({ cell, expected }) => {
      const plain = /^[-+]?\d{1,3}(?:([,.' \u00a0\u2009\u202f])\d{3})+(?:[.,]\d+)?$/.exec(cell);
      if (!plain) return false;
      const ungrouped = cell.replaceAll(plain[1] ?? '', '');
      return same(ungrouped.replace(',', '.'), expected);
    },
    wouldBreak: ({ expected }) => Math.abs(Number(expected)) >= 1000,
  }),
);

const AS_DATE = change(
  'date-shaped',
  'A program took the value for a date and wrote it as one.',
  'export',
  () => ({
    say: 'found has the shape of a date',
    explains: ({ cell, expected }) => isDateShaped(cell) && !isDateShaped(expected),
  }),
);

const UNIT_ADDED = change(
  'unit-added',
  'A unit stands in the cell beside the number: name it in the header instead.',
  'export',
  () => ({
    say: 'found = expected and a unit',
    explains: ({ cell, expected }) => {
      const match = /^([-+]?\d+(?:\.\d+)?)\s*[^\d\s.,;:+-]{1,6}(?:\/[a-z0-9²]+)?$/iu.exec(cell);
      return match?.[1] !== undefined && same(match[1], expected);
    },
    wouldBreak: ({ expected }) => expected !== '',
  }),
);

export const ABSENT_WORD =
  /^(?:null|\(null\)|\[null\]|nil|none|na|n\/a|#n\/a|nan|undefined|unknown|missing|\\n|-{1,3}|\.|\?)$/i;

const PRESENT_AS_WORD = change(
  'present-as-word',
  'A word for nothing stands where a number was measured: a failed conversion, or a value tested for truth.',
  'consumer',
  () => ({
    say: 'found is a word for nothing',
    explains: ({ cell, expected }) => expected !== '' && ABSENT_WORD.test(cell.trim()),
  }),
);

export const UNREADABLE: readonly Hypothesis<CellInstance>[] = [
  FORMULA_GUARD,
  DECIMAL_COMMA,
  THOUSANDS,
  UNIT_ADDED,
  AS_DATE,
  PRESENT_AS_WORD,
];
