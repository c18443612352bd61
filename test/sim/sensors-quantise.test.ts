import * as fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { lonDegE7, quantiserOf } from '../../sim/tracker/quantise.ts';

describe('quantiser', () => {
  it('rounds to the resolution, keeps the range, and knows no -0', () => {
    const temp = quantiserOf('airTempCE2');
    expect(temp.of(21.376)).toBe(2138);
    expect(temp.of(-21.376)).toBe(-2138);
    expect(temp.of(-1000)).toBe(-10_000);
    expect(temp.of(1000)).toBe(15_000);
    expect(Object.is(temp.of(-0.001), 0)).toBe(true);
  });

  it('refuses a field that is too wide for 32 bits', () => {
    expect(() => quantiserOf('seq')).toThrow('32 bits');
  });
});

describe('longitude', () => {
  it.each([
    [0, 0],
    [-1e-9, 0],
    [179.9999999, 1_799_999_999],
    [179.99999999, -1_800_000_000],
    [180, -1_800_000_000],
    [-180, -1_800_000_000],
    [-180.0000001, 1_799_999_999],
    [540, -1_800_000_000],
    [-14.2, -142_000_000],
  ])('%d degrees: %d', (lonDeg, whole) => {
    expect(Object.is(lonDegE7(lonDeg), whole)).toBe(true);
  });

  it('is the same place after whole turns', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: -1_800_000_000, max: 1_799_999_999 }),
        fc.integer({ min: -3, max: 3 }),
        (whole, turns) => {
          expect(lonDegE7(whole / 1e7 + 360 * turns)).toBe(whole);
        },
      ),
      { seed: 4102 },
    );
  });
});
