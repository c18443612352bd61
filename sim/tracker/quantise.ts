// From a physical value to the whole number that a reading stores.
import { FIELDS, type Reading } from '../reading.ts';

type NumberField = Extract<(typeof FIELDS)[number], { kind: 'number' }>;

/** Rounds to a field's resolution and keeps the field's range. */
export class Quantiser {
  readonly #scale: number;
  readonly #min: number;
  readonly #max: number;

  constructor(field: Pick<NumberField, 'decimals' | 'min' | 'max'>) {
    this.#scale = 10 ** field.decimals;
    this.#min = Math.round(field.min * this.#scale);
    this.#max = Math.round(field.max * this.#scale);
    if (this.#min < -(2 ** 31) || this.#max >= 2 ** 31) throw new Error('range exceeds 32 bits');
  }

  /** The stored whole number of a value in the field's unit; never -0. */
  of(value: number): number {
    const whole = Math.round(value * this.#scale);
    if (whole < this.#min) return this.#min;
    if (whole > this.#max) return this.#max;
    // `| 0` makes it a 32-bit integer, which needs no heap; and Math.round(-0.2), which is -0, becomes 0.
    return whole | 0;
  }
}

/** The quantiser of one field of a reading. */
export function quantiserOf(key: NumberField['key'] & keyof Reading): Quantiser {
  for (const field of FIELDS) {
    if (field.kind === 'number' && field.key === key) return new Quantiser(field);
  }
  throw new Error(`FIELDS has no number field ${key}`);
}

const HALF_TURN_E7 = 1_800_000_000;

/** Longitude as whole 1e-7 degrees in [-180, 180), whatever turn it was counted in; never -0. */
export function lonDegE7(lonDeg: number): number {
  let whole = Math.round(lonDeg * 1e7);
  // Wrapped after rounding: 179.99999999 rounds to 180, which is -180.
  if (whole >= HALF_TURN_E7 || whole < -HALF_TURN_E7) {
    whole -= 2 * HALF_TURN_E7 * Math.floor((whole + HALF_TURN_E7) / (2 * HALF_TURN_E7));
  }
  return whole | 0;
}
