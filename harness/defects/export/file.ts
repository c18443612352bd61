// Defects of the file: its bytes, and its header.
import type { Column } from '../../contract/contract.ts';
import type { Damage } from '../../pipeline/damage.ts';
import { defect } from '../defect.ts';

const file = (name: string, happens: string, check: string, cause: string, damage: Damage) =>
  defect('export', { name, happens, breaks: [check], cause }, damage);

/** GeoJSON has longitude first (RFC 7946, 3.1.1). */
function longitudeFirst(columns: readonly Column[]): readonly Column[] {
  const at = columns.findIndex(({ field }) => field === 'latDeg');
  const [lat, lon] = [columns[at], columns[at + 1]];
  if (lat === undefined || lon === undefined) return columns;
  return [...columns.slice(0, at), lon, lat, ...columns.slice(at + 2)];
}

export const FILE_DEFECTS = [
  file(
    'byte-order-mark',
    'The writer marks its files as UTF-8 for the sake of a table program.',
    'csv.form',
    'byte-order-mark',
    {
      lines: function* (lines) {
        let mark = '\ufeff';
        for (const line of lines) {
          yield mark + line;
          mark = '';
        }
      },
    },
  ),
  file('lf-line-ends', 'Lines end as they do on the server.', 'csv.form', 'line-ends', {
    lines: function* (lines) {
      for (const line of lines) yield line.replace(/\r\n$/, '\n');
    },
  }),
  file(
    'latin1',
    'The file is written in the encoding that the language had before its default changed.',
    'csv.form',
    'wrong-charset',
    {
      // What the encoding doesn't have becomes a question mark.
      cell: (sound) => (value) => sound(value).replaceAll(/[^\0-\xff]/gu, '?'),
      encoding: 'latin1',
    },
  ),
  file('header-renamed', 'The header shows the names of a new version.', 'csv.header', 'header-renamed', {
    columns: (columns) =>
      columns.map((column) => (column.field === 'airTempC' ? { ...column, name: 'temperature' } : column)),
  }),
  file(
    'columns-reordered',
    'A mapping library puts longitude before latitude.',
    'csv.header',
    'columns-reordered',
    {
      columns: longitudeFirst,
    },
  ),
  file(
    'column-dropped',
    'A column that seemed to be of no use is left out.',
    'csv.header',
    'column-dropped',
    {
      columns: (columns) => columns.filter(({ field }) => field !== 'hdop'),
    },
  ),
] as const;
