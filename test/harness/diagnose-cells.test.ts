// Each known damage of cells, done to real readings, is named first, with the numbers that show it.
import { describe, expect, it } from 'vitest';
import {
  ABSENT_HYPOTHESES,
  diagnose,
  FORM_HYPOTHESES,
  NUMBER_HYPOTHESES,
  TEXT_HYPOTHESES,
  TIME_HYPOTHESES,
  type CellInstance,
  type Hypothesis,
} from '../../harness/diagnose/index.ts';
import { Zone } from '../../harness/checks/zone.ts';
import { DAY_MS, HOUR_MS, utcText } from '../../sim/index.ts';
import { contractWith, damaged, EXPORTED, labelled, perfectCells } from './diagnose-support.ts';

interface Case {
  readonly cause: string;
  readonly column: string;
  readonly damage: (cell: CellInstance) => string;
  readonly evidence: RegExp;
  readonly cells?: () => readonly CellInstance[];
  /** Less than certain where the readings leave a doubt. */
  readonly sure?: 'likely' | 'possible';
}

type Rest = Partial<Pick<Case, 'cells' | 'sure'>>;

function number(
  cause: string,
  column: string,
  of: (e: number) => number | string,
  evidence: RegExp,
  rest: Rest = {},
): Case {
  const damage = ({ expected }: CellInstance) => (expected === '' ? '' : String(of(Number(expected))));
  return { cause, column, damage, evidence, ...rest };
}

function text(
  cause: string,
  column: string,
  of: (e: string) => string,
  evidence: RegExp,
  rest: Rest = {},
): Case {
  return { cause, column, damage: ({ expected }) => of(expected), evidence, ...rest };
}

const wholeTimes = 'measured_at';
const time = (
  cause: string,
  of: (atMs: number, cell: CellInstance) => number,
  evidence: RegExp,
  rest: Rest = {},
): Case => ({
  cause,
  column: wholeTimes,
  damage: (cell) => utcText(of(cell.reading.atMs, cell)),
  evidence,
  ...rest,
});

const other = ({ cells, columns }: CellInstance, name: string): string =>
  cells[columns.findIndex((column) => column.name === name)] ?? '';

function int(bits: number): (e: number) => number {
  return (e) => (bits === 16 ? new Int16Array([e])[0] : new Int8Array([e])[0]) ?? Number.NaN;
}

const round = (digits: number) => (e: number) => e.toFixed(digits);

const NUMBERS: readonly Case[] = [
  number(
    'single-precision',
    'latitude',
    (e) => Math.fround(e),
    /32-bit float in \d+ of \d+ cells; e\.g\. -38\./,
  ),
  number('rounded', 'air_temp_c', round(1), /rounded to 1 decimal in/),
  number('rounded', 'air_temp_c', Math.round, /rounded to whole numbers/),
  number('rounded', 'longitude', (e) => Number(e.toPrecision(6)), /rounded to 4 decimals/),
  number('truncated', 'speed_mps', Math.trunc, /cut to whole numbers/),
  number('truncated', 'longitude', (e) => Math.trunc(e * 1e5) / 1e5, /cut to 5 decimals/),
  number('double-arithmetic', 'battery_v', (e) => e + 1.1 - 1.1, /last bits/),
  number('sign-lost', 'latitude', Math.abs, /without its sign/),
  number('sign-flipped', 'air_temp_c', (e) => -e, /-expected/),
  number('longitude-0-360', 'longitude', (e) => Number((e < 0 ? e + 360 : e).toFixed(7)), /\+ 360/),
  number('wrapped', 'pressure_pa', int(16), /signed 16-bit/),
  number('constant-offset', 'air_temp_c', (e) => (e + 273.15).toFixed(2), /\+ 273\.15, kelvin/),
  number('constant-offset', 'rsrp_dbm', (e) => e - 30, /- 30, dBW for dBm/),
  number('constant-offset', 'humidity_pct', (e) => (e + 0.7).toFixed(1), /\+ 0\.7 in/),
  number('constant-ratio', 'speed_mps', (e) => (e * 3.6).toFixed(2), /× 3\.6, km\/h/),
  number('constant-ratio', 'speed_mps', (e) => (e * 3600) / 1852, /knots for m\/s/),
  number('constant-ratio', 'pressure_pa', (e) => e / 100, /× 0\.01, hundreds/),
  number('constant-ratio', 'battery_v', (e) => Math.round(e * 1000), /× 1000,/),
  number('constant-ratio', 'course_deg', (e) => ((e * Math.PI) / 180).toFixed(5), /radians/),
  number('constant-ratio', 'pressure_pa', (e) => e * 1.0371, /× 1\.0371 in/),
  number('other-scale', 'air_temp_c', (e) => (e * 1.8 + 32).toFixed(2), /Fahrenheit/),
  number('other-scale', 'pressure_pa', (e) => e * 0.25 - 7000, /× 0\.25 - 7000/),
  {
    cause: 'columns-swapped',
    column: 'latitude',
    damage: (cell) => other(cell, 'longitude'),
    evidence: /latitude holds longitude/,
  },
  number('clamped', 'air_temp_c', (e) => Math.max(e, 0), /= 0 where expected is below/),
  {
    cause: 'other-rows-value',
    column: 'pressure_pa',
    damage: ({ before, expected }) => (before ? String(before.pressurePa ?? '') : expected),
    evidence: /tracker's reading before/,
  },
  {
    cause: 'other-rows-value',
    column: 'rsrp_dbm',
    damage: ({ rowBefore, expected }) => String(rowBefore?.rsrpDbm ?? expected),
    evidence: /value of the row before/,
  },
  number('decimal-comma', 'air_temp_c', (e) => String(e).replace('.', ','), /comma/),
  number(
    'thousands-separator',
    'pressure_pa',
    (e) => e.toLocaleString('en'),
    /grouped.*e\.g\. \d+ → "10\d,\d+"/,
  ),
  number('formula-guard', 'air_temp_c', (e) => (e < 0 ? `'${e}` : e), /sign of its own/),
  number('unit-added', 'air_temp_c', (e) => `${e} °C`, /unit/),
  number('present-as-word', 'air_temp_c', () => 'NaN', /word for nothing/),
  number('date-shaped', 'battery_v', (e) => `${Math.ceil(e)}-Mar`, /date/),
];

const TEXTS: readonly Case[] = [
  text('leading-zeros-lost', 'label', (e) => e.replace(/^0+(?=\d+$)/, ''), /zeros in front.*"?007"? → 7/, {
    sure: 'likely',
  }),
  text('leading-zeros-lost', 'tracker_id', (e) => e.replace(/^0+/, ''), /without its zeros/),
  text(
    'exponent-id',
    'tracker_id',
    (e) => Number(e).toExponential(2).replace('e', 'E'),
    /scientific notation/,
  ),
  text('case-folded', 'label', (e) => e.toUpperCase(), /other case/),
  text('trimmed', 'label', (e) => e.trim(), /without spaces/, { sure: 'likely' }),
  text('normalised', 'label', (e) => e.normalize('NFC'), /normalisation/, { sure: 'likely' }),
  text('beyond-bmp-lost', 'label', (e) => e.replace(/[\u{10000}-\u{10ffff}]/gu, '?'), /beyond U\+FFFF/, {
    sure: 'likely',
  }),
  text('wrong-charset', 'label', (e) => Buffer.from(e).toString('latin1'), /ISO 8859-1/, { sure: 'likely' }),
  text('escaped', 'label', (e) => e.replaceAll('"', '&quot;'), /escaped/, { sure: 'likely' }),
  text('quotes-changed', 'label', (e) => e.replaceAll('"', '""'), /other quotes/, { sure: 'likely' }),
  text('formula-guard', 'label', (e) => (/^[=+\-@]/.test(e) ? `'${e}` : e), /sign of its own/, {
    sure: 'likely',
  }),
  text('text-cut', 'label', (e) => e.slice(0, 9), /first 9 UTF-16 units/),
  text('prefix', 'label', (e) => `label: ${e}`, /"label: " before/),
  text('columns-swapped', 'clock', () => '', /clock holds fix/, {
    cells: () => perfectCells('clock').map((cell) => ({ ...cell, expected: cell.reading.clock })),
  }),
  text('line-ends-changed', 'label', (e) => e.replace(/\r?\n/g, ' '), /with " " for its line breaks/, {
    cells: () => labelled(['two\nlines', 'a\r\nb', 'three\nshort\nones', 'one']),
  }),
  text('read-as-number', 'label', (e) => (e === '' ? '' : String(Number(e))), /same number/, {
    cells: () => labelled(['1e5', '2.50', '+4', '3.0']),
  }),
  text('beyond-2^53', 'label', (e) => BigInt(Number(e)).toString(), /nearest double/, {
    cells: () => labelled(['12345678901234567890', '89440000000012345671', '9007199254740993']),
  }),
  text('date-shaped', 'label', (e) => e.replace(/^(\d+)-2$/, '2-$1-2031'), /shape of a date/, {
    cells: () => labelled(['1-2', '3-2', '4-2', 'crate 1']),
  }),
  text('absent-as-text', 'label', (e) => e || 'NULL', /word for an empty text/, {
    cells: () => labelled(['', 'a', 'b']),
    sure: 'likely',
  }),
  text('word-as-absent', 'label', (e) => (/^(?:null|nan|n\/a)$/i.test(e) ? '' : e), /empty where/, {
    cells: () => labelled(['null', 'NaN', 'N/A', 'true', 'crate']),
  }),
  text('escaped', 'label', (e) => JSON.stringify(e).slice(1, -1), /escaped/, {
    cells: () => labelled(['a "b"', 'back\\slash', 'tab\there', 'plain']),
  }),
  text(
    'wrong-charset',
    'label',
    (e) => e.replace(/[^\0-\u00ff]/gu, '?').replace(/[\u0080-\u00ff]/g, '\ufffd'),
    /ISO 8859-1/,
    {
      cells: () => labelled(['Käse', 'crème', 'снег', 'crate']),
    },
  ),
  text('not-quoted', 'label', (e) => e.split(/[\n"]/)[0] ?? '', /where expected has a delimiter/, {
    cells: () => labelled(['crate 1"a', 'box\nb', 'tub 3"', 'plain']),
  }),
];

const TIMES: readonly Case[] = [
  time('sub-second-lost', (ms) => Math.floor(ms / 1000) * 1000, /cut to whole seconds/),
  time('sub-second-lost', (ms) => Math.round(ms / 1000) * 1000, /rounded to whole seconds/),
  time('constant-offset', (ms) => ms + HOUR_MS, /\+ 1h, the offset of a zone \(UTC\+01:00\)/),
  time('constant-offset', (ms) => ms + 1234, /\+ 1s234ms in/),
  time('gps-utc', (ms) => ms + 18_000, /18 s ahead of UTC/),
  time('gps-week', (ms) => ms - 1024 * 7 * DAY_MS, /1 × 1024 weeks/),
  time('base-time-lost', (ms) => ms % 60_000, /without its base/),
  time('arrival-time', (_, cell) => (cell.emission?.atMs ?? 0) + 40, /after the message was sent/),
  time('arrival-time', (_, cell) => 1_793_000_000_000 + (cell.reading.seq % 97) * 13, /far shorter time/, {
    sure: 'likely',
  }),
  {
    cause: 'day-month-swapped',
    column: wholeTimes,
    damage: ({ expected: e }) => `${e.slice(0, 5)}${e.slice(8, 10)}-${e.slice(5, 7)}${e.slice(10)}`,
    evidence: /day and month/,
    cells: () => inMarch(4),
  },
  {
    cause: 'twelve-hour-clock',
    column: wholeTimes,
    damage: ({ expected: e }) =>
      `${e.slice(0, 11)}${String(Number(e.slice(11, 13)) % 12 || 12).padStart(2, '0')}${e.slice(13)}`,
    evidence: /counted to twelve/,
    cells: () => inMarch(3.9),
  },
  time(
    'zone-with-summer-time',
    (ms) => ms + new Zone('Europe/Lisbon').offsetMs(ms),
    /by the season, as in \w+/,
    { cells: () => inMarch(50) },
  ),
  time(
    'zone-with-summer-time',
    (ms) => ms + new Zone('America/New_York').offsetMs(ms),
    /UTC-0[45]:00 or UTC-0[45]:00 by the season, as in \w+/,
    { cells: () => inMarch(24) },
  ),
  time('single-precision', (ms) => Math.fround(ms / 1000) * 1000, /32-bit float/),
  {
    cause: 'day-number',
    column: wholeTimes,
    damage: ({ reading }) => String(25_569 + reading.atMs / DAY_MS),
    evidence: /days/,
  },
  {
    cause: 'other-rows-value',
    column: wholeTimes,
    damage: ({ before, expected }) => (before ? utcText(before.atMs) : expected),
    evidence: /reading before/,
  },
];

/** The readings, spread over weeks from 3 March 2031 on. */
function inMarch(times: number): readonly CellInstance[] {
  const start =
    EXPORTED.find(({ expected }) => expected.reading.clock !== 'unset')?.expected.reading.atMs ?? 0;
  return perfectCells(
    wholeTimes,
    EXPORTED.filter(({ expected }) => expected.reading.clock !== 'unset').map((one) => {
      const { reading } = one.expected;
      const atMs = start + Math.round((reading.atMs - start) * times * 3);
      return { ...one, expected: { ...one.expected, reading: { ...reading, atMs } } };
    }),
  );
}

const ABSENT: readonly Case[] = [
  text('absent-as-zero', 'altitude_m', (e) => e || '0', /found = 0/),
  text('absent-as-text', 'altitude_m', (e) => e || 'null', /word/),
  text('absent-as-number', 'altitude_m', (e) => e || '-999', /-999/),
  {
    cause: 'carried-forward',
    column: 'altitude_m',
    damage: carry(),
    evidence: /value before/,
  },
  text('zero-as-absent', 'accel_mps2', (e) => (Number(e) === 0 ? '' : e), /0 was measured/, {
    cells: () =>
      perfectCells('accel_mps2').map((cell, k) =>
        k % 9 === 0
          ? { ...cell, cell: '0', expected: '0', reading: { ...cell.reading, accelMps2E2: 0 } }
          : cell,
      ),
  }),
  text('below-zero', 'air_temp_c', (e) => (Number(e) < 0 ? '' : e), /below zero/),
  text('value-lost', 'battery_v', () => '', /absent/),
];

function carry(): (cell: CellInstance) => string {
  const last = new Map<string, string>();
  return ({ reading, expected }) => {
    if (expected !== '') last.set(reading.id, expected);
    return expected === '' ? (last.get(reading.id) ?? '') : expected;
  };
}

const FORMS: readonly Case[] = [
  number('exponent', 'latitude', (e) => e.toExponential(), /exponent/),
  number('padded', 'battery_pct', (e) => String(e).padStart(4, '0'), /in front/),
  number('other-decimals', 'battery_v', (e) => String(e), /digits after the point/, {
    cells: () => perfectCells('battery_v', EXPORTED, contractWith('battery_v', { decimals: 3 })),
  }),
  text(
    'other-offset',
    wholeTimes,
    (e) => {
      const local = utcText(Date.parse(e) + HOUR_MS);
      return local.replace('Z', '+01:00');
    },
    /another offset/,
  ),
  text('other-second-digits', wholeTimes, (e) => e.replace('Z', '000Z'), /digits of the second/),
];

const LISTS: readonly (readonly [string, readonly Case[], readonly Hypothesis<CellInstance>[]])[] = [
  ['number', NUMBERS, NUMBER_HYPOTHESES],
  ['text', TEXTS, TEXT_HYPOTHESES],
  ['time', TIMES, TIME_HYPOTHESES],
  ['absence', ABSENT, ABSENT_HYPOTHESES],
  ['form', FORMS, FORM_HYPOTHESES],
];

for (const [kind, cases, hypotheses] of LISTS) {
  describe(`damage of ${kind}`, () => {
    it.each(cases.map((one) => [one.cause, one.column, one] as const))('%s in %s', (_, __, one) => {
      const damage =
        one.cause === 'columns-swapped' && one.column === 'clock'
          ? ({ reading }: CellInstance) => reading.fix
          : one.damage;
      const [broken, sound] = damaged(one.cells?.() ?? perfectCells(one.column), damage);
      const { causes, unexplained } = diagnose(hypotheses, broken, sound);
      expect(causes[0]?.cause).toMatchObject({
        name: one.cause,
        evidence: expect.stringMatching(one.evidence),
        sure: one.sure ?? 'certain',
      });
      expect(causes).toHaveLength(1);
      expect(unexplained).toEqual([]);
    });
  });
}

describe('a row of another length', () => {
  const cells = perfectCells('pressure_pa');
  const without = (cell: CellInstance): CellInstance => {
    const row = cell.cells.toSpliced(3, 1);
    return { ...cell, cells: row, cell: row[indexOf(cell)] ?? '' };
  };
  const indexOf = (cell: CellInstance): number => cell.columns.indexOf(cell.column);

  it('lacks a column where all do', () => {
    const { causes } = diagnose(NUMBER_HYPOTHESES, cells.map(without), []);
    expect(causes.map(({ cause }) => cause.name)).toEqual(['column-dropped']);
  });
});
