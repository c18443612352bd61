// Why a number is another number than was measured. From the specific to the general.
import type { Hypothesis } from './hypothesis.ts';
import type { CellInstance } from './instances.ts';
import { isClose, isOnGrid, numberChange, numberTest, pairsOf } from './arithmetic.ts';
import { bestChange, change, commonest, distinct, numeral, type Change } from './cells.ts';
import { DISPLACED, OTHER_ROW, SHIFTED_CELLS } from './displaced.ts';
import { CONSTANT_OFFSET, CONSTANT_RATIO, LONGITUDE_0_360, OTHER_SCALE } from './scales.ts';
import { UNREADABLE } from './unreadable.ts';

const DOUBLE_ARITHMETIC = change(
  'double-arithmetic',
  'Steps of binary arithmetic left their noise in the last digits: round to the resolution of the field when writing.',
  'store',
  () =>
    numberTest(
      'found differs from expected in the last bits of a double only',
      ({ e, v }) => v !== e && Math.abs(v - e) <= 8 * Number.EPSILON * Math.abs(e),
      (e) => e,
    ),
);

/** The shortest decimal that reads back as the same single. */
function shortestSingle(single: number): number {
  for (let digits = 1; digits < 9; digits++) {
    const value = Number(single.toPrecision(digits));
    if (Math.fround(value) === single) return value;
  }
  return Number(single.toPrecision(9));
}

const SINGLE_PRECISION = change(
  'single-precision',
  'The number went through a 32-bit float, which holds about 7 digits: store it as a double or a decimal.',
  'store',
  () =>
    numberTest(
      'found = expected as a 32-bit float',
      ({ e, v }) => {
        const single = Math.fround(e);
        return (
          v !== e && (v === single || v === shortestSingle(single) || v === Number(single.toPrecision(9)))
        );
      },
      (e) => shortestSingle(Math.fround(e)),
    ),
);

const BEYOND_2_53 = change(
  'beyond-2^53',
  'A whole number above 2^53 went through a double, which holds only every second or fourth of them.',
  'store',
  () => ({
    say: 'found = expected as the nearest double',
    explains: ({ expected, cell }) => nearestDouble(expected).includes(cell),
    wouldBreak: ({ expected, cell }) => nearestDouble(expected).some((text) => text !== cell),
  }),
);

/** What a whole number above 2^53 - 1 becomes in a double, as texts; none where it stays itself. */
export function nearestDouble(whole: string): readonly string[] {
  if (!/^[1-9]\d{15,}$/.test(whole)) return [];
  const value = Number(whole);
  const texts = [String(value), BigInt(value).toString()];
  return texts.includes(whole) ? [] : texts;
}

const DIGITS = [9, 8, 7, 6, 5, 4, 3, 2, 1, 0, -1, -2, -3];

const ROUNDED = change(
  'rounded',
  'The number was rounded to fewer digits than promised: look at the column type and at the format that writes it.',
  'store',
  (broken) =>
    bestChange(
      [
        ...DIGITS.map((n) =>
          numberTest(
            `found = expected rounded to ${places(n)}`,
            ({ e, v }) =>
              v !== e && isOnGrid(v, n) && Math.abs(v - e) <= 0.5 * 10 ** -n * (1 + 1e-6) && !isOnGrid(e, n),
            (e) => Math.round(e * 10 ** n) / 10 ** n,
          ),
        ),
        ...[8, 7, 6, 5, 4].map((n) =>
          numberChange(`found = expected rounded to ${n} digits in all`, (e) => Number(e.toPrecision(n))),
        ),
      ],
      broken,
    ),
);

const TRUNCATED = change(
  'truncated',
  'Digits were cut off, not rounded: look for an integer column, an integer division or a cut text.',
  'store',
  (broken) =>
    bestChange(
      DIGITS.flatMap((n) => {
        const cut = (round: (x: number) => number) => (e: number) => {
          // A double a bit below a whole multiple is that multiple.
          const scaled = e * 10 ** n;
          return isClose(scaled, Math.round(scaled)) ? e : round(scaled) / 10 ** n;
        };
        return [
          numberChange(`found = expected cut to ${places(n)}`, cut(Math.trunc)),
          numberChange(`found = expected rounded down to ${places(n)}`, cut(Math.floor)),
        ];
      }),
      broken,
    ),
);

function places(n: number): string {
  if (n === 0) return 'whole numbers';
  return n > 0 ? `${n} decimal${n === 1 ? '' : 's'}` : `multiples of ${10 ** -n}`;
}

const WRAPPED = change(
  'wrapped',
  'The number ran over the end of a small integer type: widen the column or the variable.',
  'store',
  (broken) =>
    bestChange(
      [0, 1, 2, 3, 7].flatMap((decimals) =>
        [8, 16, 32].flatMap((bits) => [
          wrappedAt(bits, decimals, 'signed'),
          wrappedAt(bits, decimals, 'unsigned'),
        ]),
      ),
      broken,
    ),
);

function wrappedAt(bits: number, decimals: number, kind: 'signed' | 'unsigned'): Change {
  const [scale, size] = [10 ** decimals, 2 ** bits];
  const low = kind === 'signed' ? -size / 2 : 0;
  const wrap = (e: number): number => {
    const whole = Math.round(e * scale);
    const turned = (((whole - low) % size) + size) % size;
    return turned + low === whole ? e : (turned + low) / scale;
  };
  const of = decimals === 0 ? '' : ` of multiples of ${numeral(1 / scale)}`;
  const change = numberChange(`found = expected in a ${kind} ${bits}-bit integer${of}`, wrap);
  // What stays as it is says nothing for it.
  return { ...change, explains: (cell) => cell.cell !== cell.expected && change.explains(cell) };
}

const SIGN_LOST = change(
  'sign-lost',
  'The sign is gone: look for an unsigned column, an absolute value, or S and W that were not turned into minus.',
  'store',
  () =>
    numberTest(
      'found = expected without its sign',
      ({ e, v }) => e < 0 && v === -e,
      (e) => Math.abs(e),
    ),
);

const SIGN_FLIPPED = change(
  'sign-flipped',
  'The sign is the other one: look for an axis or a direction that is counted the other way.',
  'consumer',
  () =>
    numberTest(
      'found = -expected',
      ({ e, v }) => e !== 0 && v === -e,
      (e) => -e,
    ),
);

/** The bound, where many different numbers became one and the same. */
function boundsOf(broken: readonly CellInstance[]): readonly Change[] {
  const pairs = pairsOf(broken);
  const bound = commonest(pairs.map(({ v }) => v));
  if (!bound || bound.count < 3) return [];
  const b = bound.value;
  if (distinct(pairs.filter(({ v }) => v === b).map(({ e }) => e)) < 3) return [];
  return [
    numberChange(`found = ${numeral(b)} where expected is below`, (e) => Math.max(e, b)),
    numberChange(`found = ${numeral(b)} where expected is above`, (e) => Math.min(e, b)),
  ];
}

const CLAMPED = change(
  'clamped',
  'Numbers beyond a bound were set to the bound: look for a range check that corrects instead of refusing.',
  'consumer',
  (broken) => bestChange(boundsOf(broken), broken),
);

/** The same, where the sound cells show the bound too: then no rounding near zero can be meant. */
const CLAMPED_CLEARLY: Hypothesis<CellInstance> = {
  ...CLAMPED,
  fit(broken, sound) {
    const clear = boundsOf(broken).some(
      (bound) =>
        broken.every((cell) => bound.explains(cell)) &&
        !sound.some((cell) => bound.wouldBreak?.(cell)) &&
        distinct(sound.map(({ expected }) => expected)) >= 3,
    );
    return clear ? CLAMPED.fit(broken, sound) : undefined;
  },
};

export const NUMBER_HYPOTHESES: readonly Hypothesis<CellInstance>[] = [
  ...SHIFTED_CELLS,
  ...UNREADABLE,
  DOUBLE_ARITHMETIC,
  BEYOND_2_53,
  SINGLE_PRECISION,
  CLAMPED_CLEARLY,
  ROUNDED,
  TRUNCATED,
  SIGN_LOST,
  SIGN_FLIPPED,
  LONGITUDE_0_360,
  WRAPPED,
  CONSTANT_OFFSET,
  CONSTANT_RATIO,
  OTHER_SCALE,
  DISPLACED,
  CLAMPED,
  OTHER_ROW,
];
