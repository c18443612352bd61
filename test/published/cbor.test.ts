// RFC 8949 appendix A, examples of encoded data: that the CBOR library in use writes and reads them.
import { decode, encode, rfc8949EncodeOptions } from 'cborg';
import { describe, expect, it } from 'vitest';

const EXAMPLES: readonly (readonly [unknown, string])[] = [
  [0, '00'],
  [1, '01'],
  [10, '0a'],
  [23, '17'],
  [24, '1818'],
  [100, '1864'],
  [1000, '1903e8'],
  [1_000_000, '1a000f4240'],
  [1_000_000_000_000, '1b000000e8d4a51000'],
  [-1, '20'],
  [-10, '29'],
  [-100, '3863'],
  [-1000, '3903e7'],
  [1.1, 'fb3ff199999999999a'],
  [1.5, 'f93e00'],
  [3.4028234663852886e38, 'fa7f7fffff'],
  [1e300, 'fb7e37e43c8800759c'],
  [5.960464477539063e-8, 'f90001'],
  [-4.1, 'fbc010666666666666'],
  [false, 'f4'],
  [true, 'f5'],
  [null, 'f6'],
  ['', '60'],
  ['a', '6161'],
  ['IETF', '6449455446'],
  ['"\\', '62225c'],
  ['\u00fc', '62c3bc'],
  ['\u6c34', '63e6b0b4'],
  ['\ud800\udd51', '64f0908591'],
  [[], '80'],
  [[1, 2, 3], '83010203'],
  [[1, [2, 3], [4, 5]], '8301820203820405'],
  [{ a: 1, b: [2, 3] }, 'a26161016162820203'],
];

describe('RFC 8949 appendix A', () => {
  it.each(EXAMPLES)('%j is %s', (value, hex) => {
    expect(Buffer.from(encode(value)).toString('hex')).toBe(hex);
    expect(decode(Buffer.from(hex, 'hex'))).toStrictEqual(value);
  });

  it('writes a map with number keys', () => {
    const map = new Map([
      [1, 2],
      [3, 4],
    ]);
    expect(Buffer.from(encode(map)).toString('hex')).toBe('a201020304');
    expect(decode(Buffer.from('a201020304', 'hex'), { useMaps: true })).toStrictEqual(map);
  });

  it('reads 100000.0, which a deterministic encoder of JavaScript numbers writes as a whole number', () => {
    expect(decode(Buffer.from('fa47c35000', 'hex'))).toBe(100_000);
  });

  it('section 4.2.1: keys in the order of their bytes, whatever the order in which they came', () => {
    // 10, 100, -1, "z", "aa": the example of section 4.2.1, without its array and boolean keys.
    const keys = ['aa', -1, 'z', 100, 10];
    const map = new Map(keys.map((key) => [key, 0]));
    const sorted = [
      ...(decode(encode(map, rfc8949EncodeOptions), { useMaps: true }) as Map<unknown, unknown>).keys(),
    ];
    expect(sorted).toStrictEqual([10, 100, -1, 'z', 'aa']);
  });
});
