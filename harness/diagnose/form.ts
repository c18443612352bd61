// Why the right value is written otherwise than promised.
import { parseUtc } from '../../sim/index.ts';
import type { Hypothesis } from './hypothesis.ts';
import type { CellInstance } from './instances.ts';
import { decimalsOf } from './arithmetic.ts';
import { change } from './cells.ts';

const EXPONENT = change(
  'exponent',
  'Small or large numbers are written with an exponent: ask for fixed notation when writing.',
  'export',
  () => ({ say: 'found has an exponent', explains: ({ cell }) => /\de[-+]?\d+$/i.test(cell) }),
);

const PADDED = change(
  'padded',
  'Numbers are written with zeros, spaces or a plus sign in front.',
  'export',
  () => ({
    say: 'found has zeros, spaces or a plus sign in front',
    explains: ({ cell, expected }) => !expected.includes('T') && /^(?:[ +]|-?0\d)|\s$/.test(cell),
    wouldBreak: () => true,
  }),
);

const DECIMALS = change(
  'other-decimals',
  'The number of digits after the point is not the promised one.',
  'export',
  () => ({
    say: 'found has another number of digits after the point',
    explains: ({ cell, expected, column }) => {
      if (column.form.kind !== 'number' || !/^-?\d*\.?\d*$/.test(cell)) return false;
      return decimalsOf(cell) !== (column.form.decimals ?? decimalsOf(expected));
    },
  }),
);

const BARE_POINT = change(
  'bare-point',
  'Numbers are written without a digit on one side of the point, as .5 or 5.',
  'export',
  () => ({
    say: 'found has a point without a digit beside it',
    explains: ({ cell }) => /^-?(?:\.\d+|\d+\.)$/.test(cell),
  }),
);

const OTHER_BASE = change('other-base', 'Numbers are written to another base than ten.', 'export', () => ({
  say: 'found is not decimal',
  explains: ({ cell }) => /^0[xob][0-9a-f]+$/i.test(cell),
}));

const OTHER_OFFSET = change(
  'other-offset',
  'The right instant is written with the offset of another zone than the promised one.',
  'export',
  () => ({
    say: 'found is the same instant under another offset',
    explains: ({ cell, expected }) =>
      cell !== expected && parseUtc(cell) !== undefined && offsetOf(cell) !== offsetOf(expected),
    wouldBreak: () => true,
  }),
);

const SECOND_DIGITS = change(
  'other-second-digits',
  'The second has another number of digits after the point than promised.',
  'export',
  () => ({
    say: 'found has another number of digits of the second',
    explains: ({ cell, expected }) =>
      cell !== expected &&
      expected.includes(':') &&
      /:\d\d[.,]?\d*/.exec(cell)?.[0].length !== /:\d\d\.?\d*(?=[^:]*$)/.exec(expected)?.[0].length,
  }),
);

const TIME_SPELLING = change(
  'other-time-form',
  'The right instant is spelt otherwise than promised.',
  'export',
  () => ({
    say: 'found is the same instant in another spelling',
    explains: ({ cell, expected, column }) => column.form.kind === 'time' && cell !== expected,
  }),
);

function offsetOf(text: string): string {
  return /(?:Z|[-+]\d\d:\d\d)$/i.exec(text)?.[0].replace('+00:00', 'Z').toUpperCase() ?? '';
}

export const FORM_HYPOTHESES: readonly Hypothesis<CellInstance>[] = [
  EXPONENT,
  OTHER_BASE,
  PADDED,
  BARE_POINT,
  DECIMALS,
  OTHER_OFFSET,
  SECOND_DIGITS,
  TIME_SPELLING,
];
