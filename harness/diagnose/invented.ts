// Why a row is no reading that a tracker sent.
import type { Hop } from '../verdict/verdict.ts';
import { show } from './cells.ts';
import type { Hypothesis } from './hypothesis.ts';
import type { RowInstance } from './instances.ts';
import { nearestDouble } from './numbers.ts';
import { isExponentOf } from './text.ts';

/** A kind of row that tells by itself what it is. */
function row(
  name: string,
  words: string,
  hop: Hop,
  is: (row: RowInstance) => boolean,
  say: string,
): Hypothesis<RowInstance> {
  return {
    name,
    words,
    hop,
    fit(broken) {
      const [first, ...more] = broken.filter(is);
      if (!first) return undefined;
      const text = first.cells.slice(0, 4).join(',');
      return {
        covers: is,
        exact: true,
        evidence: `${say} in ${more.length + 1} of ${broken.length} rows; e.g. record ${first.record}: ${show(text)}`,
      };
    },
  };
}

/** A spoilt identity: what became of the ids of the fleet. */
function spoilt(
  name: string,
  words: string,
  hop: Hop,
  of: (cell: string, id: string) => boolean,
  say: string,
): Hypothesis<RowInstance> {
  return row(
    name,
    words,
    hop,
    (instance) => {
      const cell = cellOf(instance, 'id');
      if (cell === undefined || cell === '' || instance.fleetIds?.includes(cell)) return false;
      return instance.fleetIds?.some((id) => of(cell, id)) ?? false;
    },
    say,
  );
}

function cellOf({ cells, columns }: RowInstance, field: string): string | undefined {
  return cells[columns.findIndex((column) => column.field === field)];
}

const HEADER = row(
  'header-repeated',
  'The header stands again among the rows: pages or files were joined with their headers on.',
  'export',
  ({ cells, columns }) => {
    const same = columns.filter(({ name }, k) => cells[k]?.trim() === name).length;
    return same > 0 && same * 2 >= columns.length;
  },
  'the cells are the names of the columns',
);

const OTHER_SIGNS = [';', ',', '\t', '|'];

/** Rows of hardly a cell, most of which have as many as promised once another sign parts them. */
const OTHER_DELIMITER: Hypothesis<RowInstance> = {
  name: 'other-delimiter',
  words: 'Cells are parted by another sign than the promised one: set the delimiter of the CSV writer.',
  hop: 'export',
  fit(broken) {
    const isShort = ({ cells, columns }: RowInstance): boolean => 2 * cells.length < columns.length;
    const short = broken.filter(isShort);
    const partedBy = (sign: string): number =>
      short.filter(({ cells, columns }) => cells.join('').split(sign).length >= 0.9 * columns.length).length;
    const [best] = OTHER_SIGNS.map((sign) => ({ sign, count: partedBy(sign) })).toSorted(
      (a, b) => b.count - a.count,
    );
    if (!best || best.count === 0 || 2 * best.count < short.length) return undefined;
    return {
      covers: isShort,
      exact: true,
      evidence: `parted by ${JSON.stringify(best.sign)} ${best.count} of ${broken.length} rows have as many cells as columns`,
    };
  },
};

const FOOTER = row(
  'footer',
  'A line that is no reading closes the file or a page: a total, a count or a note.',
  'export',
  (instance) => {
    const { cells, columns } = instance;
    const filled = cells.filter((cell) => cell.trim() !== '').length;
    const words = /\b(?:total|sum|count|rows?|records?|end|page|generated|exported|eof)\b/i;
    const isId = /^\d{14,16}$/.test((cellOf(instance, 'id') ?? '').trim());
    return (
      !isId &&
      columns.length > 4 &&
      filled <= 3 &&
      (filled === 0 || words.test(cells.join(' ')) || cells.length < columns.length)
    );
  },
  'hardly a cell is filled, and no tracker is named,',
);

const STATUS = row(
  'status-stored',
  'A status message, such as a last will or a retained copy, was stored as if it were a reading.',
  'consumer',
  (instance) => {
    const { cells, columns } = instance;
    if (cells.some((cell) => /^(?:online|offline)$/i.test(cell.trim()))) return true;
    const id = cellOf(instance, 'id');
    const seq = cellOf(instance, 'seq');
    const measured = columns.filter(
      ({ field, form }) => form.kind === 'number' && field !== 'boot' && field !== 'seq' && field !== null,
    );
    const bare = measured.filter((column) => {
      const cell = cells[columns.indexOf(column)] ?? '';
      return cell === column.nullAs || cell.trim() === '' || Number(cell) === 0;
    });
    const noSeq = seq === undefined || !/^\d+$/.test(seq) || Number(seq) === 0;
    const known = instance.fleetIds === undefined || (id !== undefined && instance.fleetIds.includes(id));
    return (
      cells.length === columns.length &&
      known &&
      id !== undefined &&
      id !== '' &&
      noSeq &&
      bare.length === measured.length
    );
  },
  'there is a tracker, but no sequence number and nothing measured',
);

const CUT_OR_SHIFTED = row(
  'not-quoted',
  'A text with a delimiter or line break in it was written without quotes, so that rows break or cells move along.',
  'export',
  ({ cells, columns }) => cells.length !== columns.length,
  'the row has another number of cells than columns',
);

const LEADING_ZEROS = spoilt(
  'leading-zeros-lost',
  'Ids were taken for numbers, which have no zeros in front: keep them as text.',
  'store',
  (cell, id) => id.startsWith('0') && cell === id.replace(/^0+/, ''),
  'the id is one of the fleet without its zeros in front',
);

const EXPONENT_ID = spoilt(
  'exponent-id',
  'Ids were taken for numbers and written with an exponent: a table program does so on saving.',
  'export',
  (cell, id) => isExponentOf(cell, id),
  'the id is one of the fleet in scientific notation',
);

const TRIMMED_OR_PADDED = spoilt(
  'padded',
  'Ids have spaces around them: a column of fixed width, or a text that was not trimmed.',
  'store',
  (cell, id) => cell.trim() === id,
  'the id is one of the fleet with spaces around it',
);

const GUARDED = spoilt(
  'formula-guard',
  'A sign was put before the ids so that spreadsheets take them for text.',
  'export',
  (cell, id) => cell !== id && (cell === `'${id}` || cell === `="${id}"` || cell === `\t${id}`),
  'the id is one of the fleet behind a sign',
);

const AFFIXED = spoilt(
  'prefix',
  'Ids are written with something before or after them, such as the scheme of a name.',
  'consumer',
  (cell, id) => cell !== id && (cell.endsWith(id) || cell.startsWith(id)),
  'the id is one of the fleet with more before or after it',
);

const CUT_ID = spoilt(
  'text-cut',
  'Ids were cut: the column is too narrow, or the check digit was left out.',
  'store',
  (cell, id) => cell.length >= 8 && cell.length < id.length && (id.startsWith(cell) || id.endsWith(cell)),
  'the id is a part of one of the fleet',
);

const GROUPED = row(
  'thousands-separator',
  'Digits of counters are grouped by thousands: write numbers without grouping.',
  'export',
  (instance) =>
    ['boot', 'seq'].some((field) =>
      /^\d{1,3}(?:[,.' \u00a0\u202f]\d{3})+$/.test(cellOf(instance, field) ?? ''),
    ),
  'a counter is grouped',
);

const EXPONENT = row(
  'exponent',
  'Counters are written with an exponent: ask for fixed notation when writing.',
  'export',
  (instance) => ['boot', 'seq'].some((field) => /^\d(?:\.\d+)?e\+?\d+$/i.test(cellOf(instance, field) ?? '')),
  'a counter is written with an exponent',
);

const BEYOND_2_53 = row(
  'beyond-2^53',
  'Sequence numbers went through a double, which holds only every second or fourth whole number above 2^53.',
  'store',
  (instance) => {
    const seq = cellOf(instance, 'seq') ?? '';
    return /^\d{16,}$/.test(seq) && BigInt(seq) >= 2n ** 53n && nearestDouble(seq).length === 0;
  },
  'the sequence number is 2^53 or more and just what a double holds',
);

const LOST_IDENTITY = row(
  'without-identity',
  'The tracker or the sequence number is empty: something was stored that names no reading.',
  'consumer',
  (instance) => cellOf(instance, 'id')?.trim() === '' || cellOf(instance, 'seq')?.trim() === '',
  'the tracker or the sequence number is empty',
);

export const INVENTED_HYPOTHESES: readonly Hypothesis<RowInstance>[] = [
  HEADER,
  OTHER_DELIMITER,
  LEADING_ZEROS,
  EXPONENT_ID,
  TRIMMED_OR_PADDED,
  GUARDED,
  AFFIXED,
  CUT_ID,
  GROUPED,
  EXPONENT,
  BEYOND_2_53,
  STATUS,
  FOOTER,
  CUT_OR_SHIFTED,
  LOST_IDENTITY,
];
