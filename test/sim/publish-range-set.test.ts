// RangeSet against the plainest reference there is: a Set of numbers.
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { RangeSet } from '../../sim/publish/range-set.ts';

const numbers = fc.array(fc.nat({ max: 60 }), { maxLength: 80 });

function of(values: readonly number[]): RangeSet {
  const set = new RangeSet();
  for (const n of values) set.add(n);
  return set;
}

describe('RangeSet', () => {
  it('holds what a Set holds, in order, whatever the order of adding', () => {
    fc.assert(
      fc.property(numbers, (values) => {
        const set = new RangeSet();
        const reference = new Set<number>();
        for (const n of values) {
          expect(set.add(n)).toBe(!reference.has(n));
          reference.add(n);
        }
        expect([...set]).toEqual([...reference].toSorted((a, b) => a - b));
        expect(set.size).toBe(reference.size);
        for (let n = 0; n <= 61; n++) expect(set.has(n)).toBe(reference.has(n));
      }),
      { seed: 11 },
    );
  });

  it('has one text for one set, and reads it back', () => {
    fc.assert(
      fc.property(numbers, (values) => {
        const text = of(values).toText();
        expect(of(values.toReversed()).toText()).toBe(text);
        const back = RangeSet.parse(text);
        expect(back && [...back]).toEqual([...of(values)]);
        expect(back?.toText()).toBe(text);
      }),
      { seed: 12 },
    );
  });

  it('writes consecutive numbers as one range', () => {
    expect(of([...Array(58).keys(), 60]).toText()).toBe('0-57,60');
    expect(of([5]).toText()).toBe('5');
    expect(new RangeSet().toText()).toBe('');
    expect(of([...Array(100_000).keys()]).ranges).toBe(1);
  });

  it.each(['-1', '1-', '3-2', '1,1', '1-2,3', 'a', '1,,2', ' 1', '1e3', '5,2', '0-99999999999999999'])(
    'refuses %j',
    (text) => {
      expect(RangeSet.parse(text)).toBeUndefined();
    },
  );

  it('joins another set in', () => {
    const set = of([1, 2, 9]);
    set.addAll(of([3, 8]));
    expect(set.toText()).toBe('1-3,8-9');
  });
});
