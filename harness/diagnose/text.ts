// Why a text is another text than was sent. From the specific to the general.
import type { Hypothesis } from './hypothesis.ts';
import type { CellInstance } from './instances.ts';
import { bestChange, change, rewrite, show } from './cells.ts';
import { DISPLACED, OTHER_ROW, SHIFTED_CELLS } from './displaced.ts';
import { ESCAPED, NOT_BMP, WRONG_CHARSET } from './encodings.ts';
import { nearestDouble } from './numbers.ts';
import { AFFIX, TEXT_CUT } from './text-ends.ts';
import { ABSENT_WORD, isDateShaped } from './unreadable.ts';

const LEADING_ZEROS = rewrite(
  'leading-zeros-lost',
  'Digits were taken for a number, which has no zeros in front: keep identities as text, in the file and on its way.',
  'store',
  'found = expected without its zeros in front',
  [(text) => (/^0+\d+$/.test(text) ? text.replace(/^0+(?=\d)/, '') : text)],
);

/** A text of digits in scientific notation with few digits. */
export function isExponentOf(cell: string, digits: string): boolean {
  const match = /^(\d(?:[.,](\d+))?)e\+?(\d+)$/i.exec(cell);
  if (!match || !/^\d+(?:e\d+)?$/i.test(digits)) return false;
  const value = Number(cell.replace(',', '.'));
  const step = 10 ** (Number(match[3]) - (match[2]?.length ?? 0));
  return Math.abs(value - Number(digits)) <= step * 0.5000001 || value === Number(digits);
}

const EXPONENT_ID = change(
  'exponent-id',
  'A long row of digits was taken for a number and written with an exponent: a table program does so on saving.',
  'export',
  () => ({
    say: 'found = expected in scientific notation',
    explains: ({ cell, expected }) => cell !== expected && isExponentOf(cell, expected),
    wouldBreak: ({ expected }) => /^\d{12,}$/.test(expected),
  }),
);

const BEYOND_2_53 = rewrite(
  'beyond-2^53',
  'A long row of digits went through a double, which holds 15 to 17 digits: keep it as text.',
  'store',
  'found = expected as the nearest double',
  [(text) => nearestDouble(text)[0] ?? text, (text) => nearestDouble(text)[1] ?? text],
);

const AS_NUMBER = change(
  'read-as-number',
  'A text that looks like a number was read as one and written anew: keep texts as text.',
  'export',
  () => ({
    say: 'found and expected are the same number',
    explains: ({ cell, expected }) =>
      cell !== expected && cell.trim() !== '' && expected.trim() !== '' && Number(cell) === Number(expected),
  }),
);

const DATE_SHAPED = change(
  'date-shaped',
  'A text was taken for a date and written as one: a table program does so on opening.',
  'export',
  () => ({
    say: 'found has the shape of a date',
    explains: ({ cell, expected }) =>
      cell !== expected && isDateShaped(cell) && /^\d+[-/. ]\d+/.test(expected),
  }),
);

const CASE_FOLDED = rewrite(
  'case-folded',
  'Letters were turned into small or capital ones: look for a case-insensitive key or column.',
  'store',
  'found = expected in other case',
  [(text) => text.toLowerCase(), (text) => text.toUpperCase()],
);

const TRIMMED = rewrite(
  'trimmed',
  'Spaces at the ends, or runs of them, were taken away: look for a trim, or a column type that pads and cuts.',
  'store',
  'found = expected without spaces',
  [
    (text) => text.trim(),
    (text) => text.trimStart(),
    (text) => text.trimEnd(),
    (text) => text.replace(/^ +| +$/g, ''),
    (text) => text.replace(/ +$/, ''),
    (text) => text.replace(/\s+/g, ' '),
    (text) => text.replace(/\s+/g, ' ').trim(),
  ],
);

const NORMALISED = rewrite(
  'normalised',
  'Unicode normalisation changed the code points of the text: turn it off, or promise the form.',
  'store',
  'found = expected in another Unicode normalisation form',
  ['NFC', 'NFD', 'NFKC', 'NFKD'].map((form) => (text: string) => text.normalize(form)),
);

const LINE_ENDS = change(
  'line-ends-changed',
  'Line breaks within a text were changed: look for a text mode, or a step that flattens lines.',
  'store',
  (broken) =>
    bestChange(
      [' ', '\n', '\r\n', '\r', '', '  ', '\\n', '\\r\\n', '<br>', '<br/>', ' | '].flatMap((end) =>
        [/\r\n|\r|\n/g, /\n/g, /\r/g].map((ends) => ({
          say: `found = expected with ${show(end)} for its line breaks`,
          explains: ({ cell, expected }: CellInstance) =>
            cell !== expected && cell === expected.replace(ends, end),
          wouldBreak: ({ expected }: CellInstance) => expected.replace(ends, end) !== expected,
        })),
      ),
      broken,
    ),
);

const FORMULA_GUARD = change(
  'formula-guard',
  'A sign that stops spreadsheets from running formulas was put before the text; the contract promises none.',
  'export',
  () => ({
    say: 'found = a sign of its own, then expected,',
    explains: ({ cell, expected }) =>
      /^[=+\-@\t\r]/.test(expected) && /^['\t ]$/.test(cell.slice(0, 1)) && cell.slice(1) === expected,
    wouldBreak: ({ expected }) => /^[=+\-@]/.test(expected),
  }),
);

const QUOTES = rewrite(
  'quotes-changed',
  'Quotes within the text were doubled, halved or dropped: quoting was done twice, or by hand.',
  'export',
  'found = expected with other quotes',
  [
    (text) => text.replaceAll('"', '""'),
    (text) => text.replaceAll('""', '"'),
    (text) => text.replaceAll('"', ''),
    (text) => text.replaceAll('"', "'"),
    (text) => `"${text}"`,
    (text) => `"${text.replaceAll('"', '""')}"`,
  ],
);

/** The first piece of a text that was split where it should have been quoted. */
const NOT_QUOTED = change(
  'not-quoted',
  'A text with a quote, delimiter or line break in it was written without quotes, or with quotes not doubled.',
  'export',
  () => ({
    say: 'found ends where expected has a delimiter, quote or line break',
    explains: ({ cell, expected, cells, columns }) =>
      cell !== expected &&
      expected.replace(/^"/, '').startsWith(cell) &&
      /^[",;\t\r\n]/.test(expected.slice(cell.length)) &&
      (cells.length !== columns.length || /["\n\r]/.test(expected)),
    wouldBreak: ({ expected }) => /[,\r\n]/.test(expected),
  }),
);

const ABSENT = change(
  'absent-as-text',
  'An empty text was written as a word for nothing: empty and absent are not the same.',
  'export',
  () => ({
    say: 'found is a word for an empty text',
    explains: ({ cell, expected }) =>
      expected.trim() === '' && cell !== expected && ABSENT_WORD.test(cell.trim()),
    wouldBreak: ({ expected }) => expected === '',
  }),
);

const WORD_AS_ABSENT = change(
  'word-as-absent',
  'A text that is a word for nothing, such as null or NaN, was taken for nothing.',
  'consumer',
  () => ({
    say: 'found is empty where expected is a word for nothing',
    explains: ({ cell, expected }) => cell === '' && ABSENT_WORD.test(expected.trim()),
    wouldBreak: ({ expected }) => ABSENT_WORD.test(expected.trim()),
  }),
);

export const TEXT_HYPOTHESES: readonly Hypothesis<CellInstance>[] = [
  ...SHIFTED_CELLS,
  FORMULA_GUARD,
  LEADING_ZEROS,
  BEYOND_2_53,
  EXPONENT_ID,
  DATE_SHAPED,
  AS_NUMBER,
  ABSENT,
  WORD_AS_ABSENT,
  LINE_ENDS,
  TRIMMED,
  CASE_FOLDED,
  NORMALISED,
  NOT_BMP,
  WRONG_CHARSET,
  QUOTES,
  ESCAPED,
  NOT_QUOTED,
  TEXT_CUT,
  DISPLACED,
  AFFIX,
  OTHER_ROW,
];
