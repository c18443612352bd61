// A number in another unit, or counted from another zero.
import type { CellInstance } from './instances.ts';
import { halfPlace, isClose, numberChange, numberTest, pairsOf, type Pair } from './arithmetic.ts';
import { bestChange, change, commonest, distinct, numeral, type Change } from './cells.ts';

/** Fewer different values than this don't show a line. */
const ENOUGH_VALUES = 3;

const OFFSETS: readonly (readonly [number, string])[] = [
  [273.15, 'kelvin for degrees Celsius'],
  [-273.15, 'degrees Celsius for kelvin'],
  [30, 'dBm for dBW'],
  [-30, 'dBW for dBm'],
  [180, 'half a turn'],
  [-180, 'half a turn'],
  [360, 'a full turn'],
  [-360, 'a full turn'],
  [90, 'a quarter turn'],
  [-90, 'a quarter turn'],
];

// Exact by definition: foot and nautical mile (1959, 1929), knot, radian.
const RATIOS: readonly (readonly [number, string])[] = [
  [1000, 'thousandths for the unit'],
  [0.001, 'thousands of the unit'],
  [100, 'hundredths for the unit'],
  [0.01, 'hundreds of the unit, as hPa for Pa'],
  [3.6, 'km/h for m/s'],
  [1 / 3.6, 'm/s for km/h'],
  [3600 / 1852, 'knots for m/s'],
  [1852 / 3600, 'm/s for knots'],
  [3.6 / 1.609344, 'miles per hour for m/s'],
  [1 / 0.3048, 'feet for metres'],
  [0.3048, 'metres for feet'],
  [180 / Math.PI, 'degrees for radians'],
  [Math.PI / 180, 'radians for degrees'],
  [10, 'tenths for the unit'],
  [0.1, 'tens of the unit, as kPa for hPa'],
  [60, 'minutes for degrees or hours'],
  [1 / 60, 'degrees or hours for minutes'],
  [1e5, 'multiples of 0.00001'],
  [1e6, 'millionths for the unit'],
  [1e7, 'multiples of 0.0000001'],
  [1e-6, 'millions of the unit'],
  [1 / 9.80665, 'standard gravity for m/s²'],
  [1 / 101.325, 'thousandths of a standard atmosphere for Pa'],
  [1 / 133.322387415, 'millimetres of mercury for Pa'],
  [1 / 3386.389, 'inches of mercury for Pa'],
];

export const LONGITUDE_0_360 = change(
  'longitude-0-360',
  'Longitude is counted from 0 to 360: west of Greenwich it is expected below zero.',
  'store',
  () => {
    const made = numberTest(
      'found = expected + 360 where expected is below zero',
      ({ e, v }) => e < 0 && isClose(v, e + 360, 1e-9),
      (e) => (e < 0 ? e + 360 : e),
    );
    const isLongitude = ({ column }: CellInstance): boolean => column.field === 'lonDeg';
    return {
      ...made,
      explains: (cell: CellInstance) => isLongitude(cell) && made.explains(cell),
    };
  },
);

export const CONSTANT_OFFSET = change(
  'constant-offset',
  'The same amount was added to every number: look for another zero point, scale or correction.',
  'consumer',
  (broken) => {
    const pairs = pairsOf(broken);
    const most = commonest(pairs.map(({ e, v }) => Number((v - e).toFixed(9))));
    const named = OFFSETS.map(([by, what]) => offset(by, broken, `, ${what}`));
    const candidates = most && most.value !== 0 ? [...named, offset(most.value, broken, '')] : named;
    return enough(bestChange(candidates, broken), broken);
  },
);

function offset(by: number, broken: readonly CellInstance[], what: string): Change {
  const sign = by < 0 ? '-' : '+';
  const within = Math.min(halfPlace(broken), Math.abs(by) * 1e-3);
  return numberChange(`found = expected ${sign} ${numeral(Math.abs(by))}${what}`, (e) => e + by, within);
}

export const CONSTANT_RATIO = change(
  'constant-ratio',
  'Every number is multiplied by the same: it is in another unit than promised.',
  'consumer',
  (broken) => {
    const within = halfPlace(broken);
    const named = RATIOS.map(([by, what]) =>
      numberChange(`found = expected × ${numeral(by)}, ${what}`, (e) => e * by, within),
    );
    const best = enough(bestChange(named, broken), broken);
    // The largest numbers tell a ratio best.
    const largest = pairsOf(broken)
      .toSorted((a, b) => Math.abs(b.e) - Math.abs(a.e))
      .slice(0, 5);
    const free = largest.flatMap(({ e, v }) =>
      e === 0 || v === 0 || Math.abs(v) < 1000 * within
        ? []
        : [numberChange(`found = expected × ${numeral(v / e)}`, (x) => (x * v) / e, 2 * within)],
    );
    const candidates = best ? [best, ...free] : free;
    return enough(bestChange(candidates, broken), broken);
  },
);

/** A line that is neither a mere offset nor a mere ratio. */
export const OTHER_SCALE = change(
  'other-scale',
  'Numbers are on another scale, with another zero and another step: a temperature in degrees Fahrenheit, for one.',
  'consumer',
  (broken) => {
    const within = halfPlace(broken);
    const fahrenheit = numberChange(
      'found = expected × 1.8 + 32, degrees Fahrenheit for Celsius',
      (e) => e * 1.8 + 32,
      within,
    );
    const celsius = numberChange(
      'found = (expected - 32) / 1.8, degrees Celsius for Fahrenheit',
      (e) => (e - 32) / 1.8,
      within,
    );
    const pairs = pairsOf(broken).toSorted((a, b) => a.e - b.e);
    const [low, high] = [pairs[0], pairs.at(-1)];
    const line = low && high && lineThrough(low, high, within);
    const found = enough(bestChange([fahrenheit, celsius], broken), broken);
    const all = [...(found ? [found] : []), ...(line ? [line] : [])];
    return enough(bestChange(all, broken), broken, ENOUGH_VALUES + 2);
  },
);

function lineThrough(low: Pair, high: Pair, within: number): Change | undefined {
  // Rounded ends must leave the slope known to a thousandth.
  if (high.e - low.e === 0 || Math.abs(high.v - low.v) < 1000 * within) return undefined;
  const slope = (high.v - low.v) / (high.e - low.e);
  const at0 = low.v - slope * low.e;
  const sign = at0 < 0 ? '-' : '+';
  return numberChange(
    `found = expected × ${numeral(slope)} ${sign} ${numeral(Math.abs(at0))}`,
    (e) => slope * e + at0,
    2 * within,
  );
}

/** The change, where enough different values show it, and not only by standing near zero. */
function enough(
  found: Change | undefined,
  broken: readonly CellInstance[],
  values = ENOUGH_VALUES,
): Change | undefined {
  if (!found) return undefined;
  const shown = broken.filter((cell) => found.explains(cell)).map(({ expected }) => expected);
  return distinct(shown) >= values ? found : undefined;
}
