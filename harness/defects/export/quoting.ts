// Defects of quotes, delimiters and guards around cells.
import type { Damage } from '../../pipeline/damage.ts';
import { defect } from '../defect.ts';
import { textOf, writing } from '../tools.ts';

const form = (name: string, happens: string, check: string, cause: string, damage: Damage) =>
  defect('export', { name, happens, breaks: [check], cause }, damage);

/** Finishes text cells in its own way. */
const quoting = (finish: (text: string, sound: string) => string): Damage => ({
  cell: (sound, column) =>
    column.form.kind !== 'text'
      ? sound
      : (value) => (value === null ? sound(value) : finish(textOf(sound(value)), sound(value))),
});

/** Delimiters of a line, those in quotes left alone. */
const DELIMITERS = /"(?:[^"]|"")*"|,/g;

export const QUOTING_DEFECTS = [
  form(
    'quotes-not-doubled',
    'Cells are put in quotes, and quotes in them are left as they are.',
    'csv.form',
    'not-quoted',
    quoting((text, sound) => (sound === text ? text : `"${text}"`)),
  ),
  form(
    'never-quoted',
    'Cells are joined with commas.',
    'csv.form',
    'not-quoted',
    quoting((text) => text),
  ),
  form(
    'line-break-unquoted',
    'Quotes are put around commas and quotes, and line ends are not thought of.',
    'csv.form',
    'not-quoted',
    quoting((text, sound) => (/[",]/.test(text) ? sound : text)),
  ),
  form(
    'semicolons',
    "The server's language has a comma in numbers, so that its lists have semicolons.",
    'csv.header',
    'other-delimiter',
    {
      lines: function* (lines) {
        for (const line of lines) yield line.replaceAll(DELIMITERS, (part) => (part === ',' ? ';' : part));
      },
    },
  ),
  form(
    'trailing-delimiter',
    'Each cell of a row is followed by a comma, the last one too.',
    'csv.form',
    'trailing-delimiter',
    {
      lines: function* (lines) {
        let header = true;
        for (const line of lines) {
          yield header ? line : line.replace(/\r\n$/, ',\r\n');
          header = false;
        }
      },
    },
  ),
  form(
    'formula-guard-on-numbers',
    'A guard against formulas puts an apostrophe before every cell that starts with a minus sign.',
    'values.numbers',
    'formula-guard',
    writing('number', (text) => (text.startsWith('-') ? `'${text}` : text)),
  ),
  form(
    'formula-guard-on-text',
    'A guard against formulas puts an apostrophe before labels, which the contract does not say.',
    'values.text',
    'formula-guard',
    writing('text', (text) => (/^[=+\-@]/.test(text) ? `'${text}` : text)),
  ),
] as const;
