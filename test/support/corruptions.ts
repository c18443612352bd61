// Ways to spoil a good export, and ways to write it otherwise without changing what it says.
import type { Contract } from '../../harness/contract/contract.ts';
import type { RandomStream } from '../../sim/random.ts';
import { csvBytes, quoted, quoteIfNeeded, type IdealRow } from './ideal-export.ts';

/** A good export, taken apart. */
export interface Good {
  readonly contract: Contract;
  readonly rows: readonly IdealRow[];
  readonly bytes: Buffer;
}

export interface Corruption {
  readonly name: string;
  /** What was done, for whoever has to look into it. */
  readonly what: string;
  readonly bytes: Buffer;
  /** By the way it was made; `ask` where only a reader of the file can tell. */
  readonly meaning: 'changed' | 'kept' | 'ask';
}

type Made = Omit<Corruption, 'name'> | undefined;
type Maker = (good: Good, random: RandomStream) => Made;

const pick = <T>(random: RandomStream, from: readonly T[]): T | undefined => from[random.below(from.length)];

/** Another text for one cell; undefined where this cell can't be spoiled in this way. */
type CellChange = (cell: string, random: RandomStream) => string | undefined;

function cellMaker(kinds: readonly string[], change: CellChange, meaning: Corruption['meaning']): Maker {
  return ({ contract, rows }, random) => {
    const columns = contract.columns.flatMap(({ form, field }, k) =>
      field !== null && kinds.includes(form.kind) ? [k] : [],
    );
    const at = random.below(rows.length);
    const k = pick(random, columns) ?? 0;
    const cell = rows[at]?.cells[k] ?? '';
    const changed = change(cell, random);
    if (changed === undefined || changed === cell) return undefined;
    const cells = rows.map((row, r) => (r === at ? row.cells.with(k, changed) : row.cells));
    const what = `row ${at + 1}, ${contract.columns[k]?.name}: ${JSON.stringify(cell)} to ${JSON.stringify(changed)}`;
    return { what, bytes: csvBytes(contract, cells), meaning };
  };
}

const isNumber = (cell: string) => /^-?\d/.test(cell);
const onNumber = (change: CellChange): CellChange => {
  return (cell, random) => (isNumber(cell) ? change(cell, random) : undefined);
};

function anyPlace(change: (cell: string, at: number, random: RandomStream) => string): CellChange {
  return (cell, random) => (cell === '' ? undefined : change(cell, random.below(cell.length), random));
}

const digit = (random: RandomStream) => String(random.below(10));

const CELLS: Readonly<Record<string, Maker>> = {
  'a digit flipped': cellMaker(
    ['number', 'time', 'text'],
    (cell, random) => {
      const at = pick(
        random,
        [...cell.matchAll(/\d/g)].map(({ index }) => index),
      );
      return at === undefined ? undefined : cell.slice(0, at) + digit(random) + cell.slice(at + 1);
    },
    'ask',
  ),
  'sign turned': cellMaker(
    ['number'],
    onNumber((cell) => (cell.startsWith('-') ? cell.slice(1) : `-${cell}`)),
    'ask',
  ),
  'a decimal dropped': cellMaker(
    ['number'],
    onNumber((cell) => (cell.includes('.') ? cell.slice(0, -1).replace(/\.$/, '') : undefined)),
    'ask',
  ),
  'rounded to whole': cellMaker(
    ['number'],
    onNumber((cell) => String(Math.round(Number(cell)))),
    'ask',
  ),
  'a zero behind': cellMaker(
    ['number'],
    onNumber((cell) => (cell.includes('.') ? `${cell}0` : `${cell}.0`)),
    'ask',
  ),
  'a zero before': cellMaker(
    ['number'],
    onNumber((cell) => cell.replace(/\d/, '0$&')),
    'changed',
  ),
  'off by a little': cellMaker(
    ['number'],
    onNumber((cell, random) => (Number(cell) + (random.below(19) - 9) / 1000).toFixed(3)),
    'ask',
  ),
  'single precision': cellMaker(
    ['number'],
    onNumber((cell) => String(Math.fround(Number(cell)))),
    'ask',
  ),
  'with an exponent': cellMaker(
    ['number'],
    onNumber((cell) => Number(cell).toExponential()),
    'changed',
  ),
  'with a plus': cellMaker(
    ['number'],
    onNumber((cell) => (cell.startsWith('-') ? undefined : `+${cell}`)),
    'changed',
  ),
  'decimal comma': cellMaker(
    ['number'],
    onNumber((cell) => (cell.includes('.') ? cell.replace('.', ',') : undefined)),
    'changed',
  ),
  'thousands apart': cellMaker(
    ['number'],
    onNumber((cell) => (/^\d{4}/.test(cell) ? cell.replace(/^(\d+)(\d{3})/, '$1,$2') : undefined)),
    'changed',
  ),
  'times a constant': cellMaker(
    ['number'],
    onNumber((cell, random) => String(Number(cell) * (pick(random, [1000, 3.6, 1.852, -1]) ?? 0))),
    'ask',
  ),
  'made absent': cellMaker(
    ['number', 'time'],
    (cell) => (isNumber(cell) && cell !== '' ? '' : undefined),
    'ask',
  ),
  'made a word for absent': cellMaker(
    ['number', 'time'],
    (_, random) => pick(random, ['null', 'NaN', 'None', '-', 'N/A', '\\N']),
    'ask',
  ),
  'made zero': cellMaker(['number'], () => '0', 'ask'),
  'made absent or not': cellMaker(['number'], (cell) => (isNumber(cell) ? undefined : '0'), 'ask'),
  'space before': cellMaker(['number', 'time', 'text'], (cell) => ` ${cell}`, 'ask'),
  'space behind': cellMaker(['number', 'time', 'text'], (cell) => `${cell} `, 'ask'),
  trimmed: cellMaker(['text'], (cell) => cell.trim(), 'changed'),
  'upper case': cellMaker(['text', 'time'], (cell) => cell.toUpperCase(), 'changed'),
  'lower case': cellMaker(['text', 'time'], (cell) => cell.toLowerCase(), 'changed'),
  composed: cellMaker(['text'], (cell) => cell.normalize('NFC'), 'changed'),
  decomposed: cellMaker(['text'], (cell) => cell.normalize('NFD'), 'changed'),
  'a character dropped': cellMaker(
    ['text', 'time', 'number'],
    anyPlace((cell, at) => cell.slice(0, at) + cell.slice(at + 1)),
    'ask',
  ),
  'a character doubled': cellMaker(
    ['text', 'time', 'number'],
    anyPlace((cell, at) => cell.slice(0, at + 1) + cell.slice(at)),
    'ask',
  ),
  'two characters swapped': cellMaker(
    ['text', 'time', 'number'],
    anyPlace((cell, at) => cell.slice(0, at) + (cell[at + 1] ?? '') + (cell[at] ?? '') + cell.slice(at + 2)),
    'ask',
  ),
  'cut short': cellMaker(
    ['text', 'time', 'number'],
    anyPlace((cell, at) => cell.slice(0, at)),
    'ask',
  ),
  'quotes doubled again': cellMaker(['text'], (cell) => cell.replaceAll('"', '""'), 'changed'),
  'line ends made one': cellMaker(['text'], (cell) => cell.replaceAll('\r\n', '\n'), 'changed'),
  'line ends made spaces': cellMaker(['text'], (cell) => cell.replaceAll(/\r?\n/g, ' '), 'changed'),
  'guarded or unguarded': cellMaker(
    ['text'],
    (cell) => (cell.startsWith("'") ? cell.slice(1) : `'${cell}`),
    'changed',
  ),
  'leading zeros lost': cellMaker(['text'], (cell) => cell.replace(/^0+/, ''), 'changed'),
  'read as latin-1': cellMaker(['text'], (cell) => Buffer.from(cell).toString('latin1'), 'changed'),
  'time moved': cellMaker(
    ['time'],
    (cell, random) => {
      const byMs = pick(random, [1, -1, 1000, 3_600_000, -3_600_000, 86_400_000, 1024 * 7 * 86_400_000]) ?? 1;
      if (/^\d+$/.test(cell)) return String(Number(cell) + byMs);
      if (/^\d+\.\d+$/.test(cell)) return (Number(cell) + byMs / 1000).toFixed(3);
      const moved = new Date(Date.parse(`${cell.replace('Z', '').replace(' ', 'T')}Z`) + byMs).toISOString();
      return cell.includes('T') ? moved : moved.replace('T', ' ').replace('Z', '');
    },
    'changed',
  ),
  'another spelling of UTC': cellMaker(
    ['time'],
    (cell) => (cell.endsWith('Z') ? cell.replace('Z', '+00:00') : undefined),
    'kept',
  ),
  'another zone': cellMaker(
    ['time'],
    (cell) => (cell.endsWith('Z') ? cell.replace('Z', '+01:00') : undefined),
    'changed',
  ),
};

/** Changes the list of rows. */
function rowsMaker(
  change: (rows: (readonly string[])[], at: number, to: number) => (readonly string[])[],
): Maker {
  return ({ contract, rows }, random) => {
    const at = random.below(rows.length);
    const to = random.below(rows.length);
    const before = rows.map(({ cells }) => cells);
    const after = change([...before], at, to);
    if (JSON.stringify(after) === JSON.stringify(before)) return undefined;
    return { what: `rows ${at + 1} and ${to + 1}`, bytes: csvBytes(contract, after), meaning: 'changed' };
  };
}

const ROWS: Readonly<Record<string, Maker>> = {
  'a row dropped': rowsMaker((rows, at) => rows.toSpliced(at, 1)),
  'a row doubled': rowsMaker((rows, at) => rows.toSpliced(at, 0, rows[at] ?? [])),
  'a row doubled elsewhere': rowsMaker((rows, at, to) => rows.toSpliced(to, 0, rows[at] ?? [])),
  'two rows swapped': rowsMaker((rows, at, to) => rows.with(at, rows[to] ?? []).with(to, rows[at] ?? [])),
  'a row moved': rowsMaker((rows, at, to) => rows.toSpliced(at, 1).toSpliced(to, 0, rows[at] ?? [])),
  'a row in place of another': rowsMaker((rows, at, to) => rows.with(at, rows[to] ?? [])),
  'rows after one lost': rowsMaker((rows, at) => rows.slice(0, at)),
  'rows before one lost': rowsMaker((rows, at) => rows.slice(at + 1)),
  'rows the other way round': rowsMaker((rows) => rows.toReversed()),
  'a row cut short': rowsMaker((rows, at) => rows.with(at, rows[at]?.slice(0, -1) ?? [])),
  'a row with a cell more': rowsMaker((rows, at) => rows.with(at, [...(rows[at] ?? []), ''])),
  'cells moved by one': rowsMaker((rows, at) => {
    const [first = '', ...rest] = rows[at] ?? [];
    return rows.with(at, [...rest, first]);
  }),
  'an empty row': rowsMaker((rows, at) => rows.toSpliced(at, 0, [''])),
};

/** Changes columns: in the header, in the rows, or in both. */
function columnsMaker(
  change: (cells: readonly string[], at: number, to: number) => readonly string[],
  where: 'header' | 'rows' | 'both',
): Maker {
  return ({ contract, rows }, random) => {
    const at = random.below(contract.columns.length);
    const to = random.below(contract.columns.length);
    const names = contract.columns.map(({ name }) => name);
    const header = where === 'rows' ? names : change(names, at, to);
    const cells = rows.map((row) => (where === 'header' ? row.cells : change(row.cells, at, to)));
    const before = [names, ...rows.map((row) => row.cells)];
    const all = contract.csv.header ? [header, ...cells] : cells;
    if (JSON.stringify(all) === JSON.stringify(contract.csv.header ? before : before.slice(1))) {
      return undefined;
    }
    const bare = { ...contract, csv: { ...contract.csv, header: false } };
    return { what: `columns ${at + 1} and ${to + 1}`, bytes: csvBytes(bare, all), meaning: 'ask' };
  };
}

const swapped = (cells: readonly string[], at: number, to: number) =>
  cells.with(at, cells[to] ?? '').with(to, cells[at] ?? '');

const COLUMNS: Readonly<Record<string, Maker>> = {
  'two columns swapped': columnsMaker(swapped, 'both'),
  'two names swapped': columnsMaker(swapped, 'header'),
  'two columns swapped under their names': columnsMaker(swapped, 'rows'),
  'a column dropped': columnsMaker((cells, at) => cells.toSpliced(at, 1), 'both'),
  'a column doubled': columnsMaker((cells, at) => [...cells, cells[at] ?? ''], 'both'),
  'a column renamed': columnsMaker((cells, at) => cells.with(at, `${cells[at]}_`), 'header'),
  'a name in upper case': columnsMaker(
    (cells, at) => cells.with(at, cells[at]?.toUpperCase() ?? ''),
    'header',
  ),
};

/** Writes the same cells with quotes of its own choice, or other line ends. */
function styleMaker(
  isQuoted: (random: RandomStream) => boolean,
  meaning: Corruption['meaning'],
  end: (random: RandomStream) => string = () => '',
): Maker {
  return ({ contract, rows }, random) => {
    const { delimiter, header, lineEnd, byteOrderMark } = contract.csv;
    const names = contract.columns.map(({ name }) => name);
    const all = [...(header ? [names] : []), ...rows.map(({ cells }) => cells)];
    const promised = lineEnd === 'lf' ? '\n' : '\r\n';
    const mark = byteOrderMark === 'required' ? '\ufeff' : '';
    const text = all
      .map((cells) => {
        const written = cells.map((cell) =>
          isQuoted(random) ? quoted(cell) : quoteIfNeeded(cell, delimiter),
        );
        return written.join(delimiter) + (end(random) || promised);
      })
      .join('');
    return { what: '', bytes: Buffer.from(mark + text), meaning };
  };
}

function bytesMaker(
  change: (bytes: Buffer, at: number, random: RandomStream) => Buffer,
  meaning: Corruption['meaning'],
): Maker {
  return ({ bytes }, random) => {
    const at = random.below(bytes.length);
    const changed = change(bytes, at, random);
    if (changed.equals(bytes)) return undefined;
    return {
      what: `byte ${at}: ${JSON.stringify(changed.toString('latin1', at - 8, at + 8))}`,
      bytes: changed,
      meaning,
    };
  };
}

const joined = (bytes: Buffer, at: number, middle: readonly number[], skip: number) =>
  Buffer.concat([bytes.subarray(0, at), Buffer.from(middle), bytes.subarray(at + skip)]);
const SIGNS = Buffer.from(',;"\r\n -+.0059\'\0\t=eE');
const sign = (random: RandomStream) => pick(random, [...SIGNS]) ?? 0;

const BYTES: Readonly<Record<string, Maker>> = {
  'some cells in quotes': styleMaker((random) => random.chance(1, 5), 'kept'),
  'every cell in quotes': styleMaker(() => true, 'kept'),
  'LF after every record': styleMaker(
    () => false,
    'ask',
    () => '\n',
  ),
  'LF after some records': styleMaker(
    () => false,
    'ask',
    (random) => (random.chance(1, 30) ? '\n' : ''),
  ),
  'CR after every record': styleMaker(
    () => false,
    'changed',
    () => '\r',
  ),
  'no last line end': bytesMaker(
    (bytes) => bytes.subarray(0, bytes.at(-2) === 13 ? bytes.length - 2 : bytes.length - 1),
    'kept',
  ),
  'half a last line end': bytesMaker((bytes) => bytes.subarray(0, bytes.length - 1), 'ask'),
  'an empty line at the end': bytesMaker((bytes) => Buffer.concat([bytes, Buffer.from('\r\n')]), 'changed'),
  'byte order mark turned': bytesMaker(
    (bytes) => (bytes[0] === 0xef ? bytes.subarray(3) : joined(bytes, 0, [0xef, 0xbb, 0xbf], 0)),
    'ask',
  ),
  'cut at a byte': bytesMaker((bytes, at) => bytes.subarray(0, at), 'ask'),
  'a byte changed': bytesMaker((bytes, at, random) => joined(bytes, at, [random.below(256)], 1), 'ask'),
  'a bit flipped': bytesMaker(
    (bytes, at, random) => joined(bytes, at, [(bytes[at] ?? 0) ^ (1 << random.below(8))], 1),
    'ask',
  ),
  'a byte put in': bytesMaker((bytes, at, random) => joined(bytes, at, [random.below(256)], 0), 'ask'),
  'a sign put in': bytesMaker((bytes, at, random) => joined(bytes, at, [sign(random)], 0), 'ask'),
  'a sign in place of a byte': bytesMaker((bytes, at, random) => joined(bytes, at, [sign(random)], 1), 'ask'),
  'a byte dropped': bytesMaker((bytes, at) => joined(bytes, at, [], 1), 'ask'),
  'two bytes swapped': bytesMaker(
    (bytes, at) => joined(bytes, at, [bytes[at + 1] ?? 0, bytes[at] ?? 0], 2),
    'ask',
  ),
  'bytes repeated': bytesMaker((bytes, at, random) => {
    const piece = bytes.subarray(at, at + 1 + random.below(40));
    return joined(bytes, at, [...piece], 0);
  }, 'ask'),
  'bytes lost': bytesMaker((bytes, at, random) => joined(bytes, at, [], 1 + random.below(40)), 'ask'),
  'written as latin-1': bytesMaker((bytes) => Buffer.from(bytes.toString(), 'latin1'), 'changed'),
};

const MAKERS: readonly (readonly [string, Maker])[] = Object.entries({
  ...CELLS,
  ...ROWS,
  ...COLUMNS,
  ...BYTES,
});

/** The names of all ways, so that a test can tell that each was tried. */
export const WAYS: readonly string[] = MAKERS.map(([name]) => name);

/** One corruption; the same random numbers make the same one. */
export function corruptionOf(good: Good, random: RandomStream): Corruption {
  for (;;) {
    const [name, maker] = pick(random, MAKERS) ?? ['', () => undefined];
    const made = maker(good, random);
    if (made) return { name, ...made };
  }
}
