// Defects of how numbers, and absent ones, are written.
import type { Damage } from '../../pipeline/damage.ts';
import { defect } from '../defect.ts';
import { isFractional, writing } from '../tools.ts';

const number = (name: string, happens: string, check: string, cause: string, damage: Damage) =>
  defect('export', { name, happens, breaks: [check], cause }, damage);

/** Writes an absent number as some text. */
const absentAs = (text: string): Damage => ({
  cell: (sound, column) =>
    column.form.kind === 'number' && column.nullAs !== null
      ? (value) => (value === null ? text : sound(value))
      : sound,
});

export const NUMBER_DEFECTS = [
  number(
    'decimal-comma',
    "Numbers are written in the server's language, with a comma.",
    'values.numbers',
    'decimal-comma',
    writing('number', (text) => text.replace('.', ','), isFractional),
  ),
  number(
    'thousands',
    'Numbers are written for people, with a comma between thousands.',
    'values.numbers',
    'thousands-separator',
    writing(
      'number',
      (text) => text.replace(/\B(?=(\d{3})+$)/g, ','),
      ({ field }) => field === 'pressurePa',
    ),
  ),
  number(
    'exponent',
    'Numbers are written in scientific notation.',
    'csv.numbers',
    'exponent',
    writing('number', (text) => Number(text).toExponential(), isFractional),
  ),
  number(
    'two-decimals',
    'Numbers are written with two digits after the point, as money is.',
    'values.numbers',
    'rounded',
    writing('number', (text) => Number(text).toFixed(2), isFractional),
  ),
  number(
    'null-as-zero',
    'An absent number is written as 0.',
    'values.absent',
    'absent-as-zero',
    absentAs('0'),
  ),
  number(
    'null-as-word',
    'An absent number is written as the word NULL.',
    'values.absent',
    'absent-as-text',
    absentAs('NULL'),
  ),
  number(
    'empty-for-zero',
    'A template writes nothing where a number is zero.',
    'values.absent',
    'zero-as-absent',
    writing(
      'number',
      (text) => (Number(text) === 0 ? '' : text),
      ({ nullAs }) => nullAs !== null,
    ),
  ),
] as const;
