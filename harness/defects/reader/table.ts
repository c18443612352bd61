// Defects of a round trip: somebody opened the export in a table program and saved it again.
import { defect } from '../defect.ts';
import { writing } from '../tools.ts';

const DIGITS_SHOWN = 12;

/** A number of more digits than a cell shows, as table programs write it: 1.23457E+14. */
function asShown(digits: string): string {
  const [mantissa, exponent] = Number(digits).toExponential(5).split('e+');
  return `${String(Number(mantissa))}E+${exponent}`;
}

export const TABLE_DEFECTS = [
  defect(
    'reader',
    {
      name: 'table-leading-zeros',
      happens:
        'The program takes tracker ids and labels of digits for numbers, and drops their leading zeros.',
      breaks: ['values.text'],
      cause: 'leading-zeros-lost',
    },
    writing(
      'text',
      (text) => (/^0+\d+$/.test(text) ? text.replace(/^0+(?=\d)/, '') : text),
      ({ field }) => field === 'label',
    ),
  ),
  defect(
    'reader',
    {
      name: 'table-ids-without-zeros',
      happens:
        'The program takes the fifteen digits of a tracker id for a number, and drops its leading zeros.',
      breaks: ['ingest.nothing-invented', 'ingest.complete'],
      cause: 'leading-zeros-lost',
    },
    writing(
      'text',
      (text) => text.replace(/^0+(?=\d)/, ''),
      ({ field }) => field === 'id',
    ),
  ),
  defect(
    'reader',
    {
      name: 'table-long-ids',
      happens:
        'The program shows numbers of more than twelve digits with an exponent, and saves what it shows.',
      breaks: ['ingest.nothing-invented', 'ingest.complete'],
      cause: 'exponent-id',
    },
    writing('text', (text) =>
      /^\d+$/.test(text) && text.replace(/^0+/, '').length > DIGITS_SHOWN ? asShown(text) : text,
    ),
  ),
  defect(
    'reader',
    {
      name: 'table-dates',
      happens: 'The program takes a label such as 1-2 for a day and a month.',
      breaks: ['values.text'],
      cause: 'date-shaped',
    },
    writing('text', (text) => {
      const [, day, month] = /^(\d{1,2})-(\d{1,2})$/.exec(text) ?? [];
      return day === undefined || month === undefined
        ? text
        : `${day.padStart(2, '0')}/${month.padStart(2, '0')}/2031`;
    }),
  ),
] as const;
