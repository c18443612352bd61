// Defects of exports that are made in pieces, or not to the end.
import type { Damage } from '../../pipeline/damage.ts';
import { defect } from '../defect.ts';

const PAGE_ROWS = 250;
const MOST_ROWS = 1000;
const MOST_CHARACTERS = 300_000;

/** Pages of PAGE_ROWS, each `step` rows after the one before. */
const paged = (step: number): Damage => ({
  select: function* (select, read) {
    for (let offset = 0; ; offset += step) {
      let rows = 0;
      for (const row of read({ ...select, tail: `LIMIT ${PAGE_ROWS} OFFSET ${offset}` })) {
        rows += 1;
        yield row;
      }
      if (rows < PAGE_ROWS) return;
    }
  },
});

export const PAGE_DEFECTS = [
  defect(
    'export',
    {
      name: 'row-cap',
      happens: 'A library gives at most a thousand rows of a query, and says so only in its manual.',
      breaks: ['ingest.complete'],
      cause: 'row-cap',
    },
    { select: (select, read) => read({ ...select, tail: `LIMIT ${MOST_ROWS}` }) },
  ),
  defect(
    'export',
    {
      name: 'truncated-file',
      happens: 'The disk is full; the write fails in the middle of a row, and nobody looks at the error.',
      breaks: ['csv.form', 'ingest.complete'],
      cause: 'file-cut',
    },
    {
      lines: function* (lines) {
        let left = MOST_CHARACTERS;
        for (const line of lines) {
          if (line.length > left) return yield line.slice(0, line.length / 2);
          left -= line.length;
          yield line;
        }
      },
    },
  ),
  defect(
    'export',
    {
      name: 'page-edge-lost',
      happens:
        'Each page asks for one row more, to see whether there is a next page, and the next starts behind it.',
      breaks: ['ingest.complete'],
      cause: 'page-edge',
    },
    paged(PAGE_ROWS + 1),
  ),
  defect(
    'export',
    {
      name: 'page-edge-doubled',
      happens: 'Each page starts with the last row of the page before.',
      breaks: ['ingest.no-repeats'],
      cause: 'page-edge',
    },
    paged(PAGE_ROWS - 1),
  ),
  defect(
    'export',
    {
      name: 'header-on-every-page',
      happens: 'The pages are files of their own, put together without taking off their headers.',
      breaks: ['ingest.nothing-invented'],
      cause: 'header-repeated',
    },
    {
      lines: function* (lines) {
        let header = '';
        let rows = -1;
        for (const line of lines) {
          if (rows < 0) header = line;
          else if (rows > 0 && rows % PAGE_ROWS === 0) yield header;
          rows += 1;
          yield line;
        }
      },
    },
  ),
  defect(
    'export',
    {
      name: 'footer-row',
      happens: 'A report writer ends the file with a line that counts its rows.',
      breaks: ['ingest.nothing-invented', 'csv.form'],
      cause: 'footer',
    },
    {
      lines: function* (lines) {
        let rows = -1;
        for (const line of lines) {
          rows += 1;
          yield line;
        }
        yield `Total rows: ${rows}\r\n`;
      },
    },
  ),
] as const;
