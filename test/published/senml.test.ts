// RFC 8428, Sensor Measurement Lists: resolution of packs, and the labels of the CBOR form.
import { decode, encode } from 'cborg';
import { describe, expect, it } from 'vitest';
import { CBOR_LABELS, RELATIVE_BELOW_S, resolveSenml } from '../../sim/payload/senml-resolve.ts';
import { urnOfImei, imeiOfUrn } from '../../sim/payload/imei-urn.ts';

const NOW_S = 1.5e9;

describe('RFC 8428 section 4.6, resolution', () => {
  it('section 5.1.2, as printed: the base unit holds where a record has none, and base time adds', () => {
    const pack: unknown = JSON.parse(
      '[{"bn":"urn:dev:ow:10e2073a0108006:","bt":1.276020076001e+09,"bu":"A","bver":5,"n":"voltage","u":"V","v":120.1},{"n":"current","t":-5,"v":1.2}]',
    );
    expect(resolveSenml(pack, NOW_S)).toStrictEqual([
      { n: 'urn:dev:ow:10e2073a0108006:voltage', u: 'V', t: 1276020076.001, v: 120.1 },
      { n: 'urn:dev:ow:10e2073a0108006:current', u: 'A', t: 1276020071.001, v: 1.2 },
    ]);
  });

  it('section 5.1.1 (from memory): a single data point', () => {
    expect(resolveSenml([{ n: 'urn:dev:ow:10e2073a01080063', u: 'Cel', v: 23.1 }])).toStrictEqual([
      { n: 'urn:dev:ow:10e2073a01080063', u: 'Cel', t: 0, v: 23.1 },
    ]);
  });

  it("section 5.1.3 (from memory): base time holds from record to record, a record's own time does not", () => {
    const resolved = resolveSenml([
      { bn: 'urn:dev:ow:10e2073a01080063', bt: 1.320067464e9, bu: '%RH', v: 20 },
      { u: 'lon', v: 24.30621 },
      { u: 'lat', v: 60.07965 },
      { t: 60, v: 20.3 },
      { u: 'lon', t: 60, v: 24.30622 },
      { u: '%EL', t: 150, v: 98 },
      { v: 21 },
    ]);
    expect(resolved.map((r) => [r.u, r.t, r.v])).toStrictEqual([
      ['%RH', 1320067464, 20],
      ['lon', 1320067464, 24.30621],
      ['lat', 1320067464, 60.07965],
      ['%RH', 1320067524, 20.3],
      ['lon', 1320067524, 24.30622],
      ['%EL', 1320067614, 98],
      ['%RH', 1320067464, 21],
    ]);
  });

  it('section 4.5.3: times below 2^28 are relative to now', () => {
    expect(RELATIVE_BELOW_S).toBe(268_435_456);
    const pack = [
      { n: 'a', v: 1 },
      { n: 'a', t: -5, v: 1 },
      { n: 'a', t: 2 ** 28 - 1, v: 1 },
      { n: 'a', t: 2 ** 28, v: 1 },
    ];
    expect(resolveSenml(pack, NOW_S).map((r) => r.t)).toStrictEqual([
      NOW_S,
      NOW_S - 5,
      NOW_S + 2 ** 28 - 1,
      2 ** 28,
    ]);
    expect(resolveSenml(pack).map((r) => r.t)).toStrictEqual([0, -5, 2 ** 28 - 1, 2 ** 28]);
  });

  it('section 4.5.4 (from memory): base value and sum add; what is missing of a pair counts as 0', () => {
    const resolved = resolveSenml([
      { bn: 'a', bv: 10, bs: 100, v: 1, s: 2 },
      { n: 'b' },
      { bv: 20, v: 1 },
      { vs: 'text' },
      { vb: false },
    ]);
    expect(resolved).toStrictEqual([
      { n: 'a', t: 0, v: 11, s: 102 },
      { n: 'ab', t: 0, v: 10, s: 100 },
      { n: 'a', t: 0, v: 21, s: 100 },
      { n: 'a', t: 0, vs: 'text', s: 100 },
      { n: 'a', t: 0, vb: false, s: 100 },
    ]);
  });

  it.each([
    ['not an array', { n: 'a', v: 1 }, 'not an array'],
    ['no record', [], 'no record'],
    ['a record that is no object', [1], 'record 1: not a SenML record'],
    ['a later version (4.4)', [{ bver: 11, n: 'a', v: 1 }], 'bver 11'],
    ['a label that must be understood (4.4)', [{ n: 'a', v: 1, extra_: 1 }], 'extra_ must be understood'],
    ['no name (4.5.1)', [{ v: 1 }], "isn't a SenML name"],
    ['a name with a space (4.5.1)', [{ n: 'a b', v: 1 }], "isn't a SenML name"],
    ['a name that begins with a sign (4.5.1)', [{ n: '-a', v: 1 }], "isn't a SenML name"],
    ['no value', [{ n: 'a' }], 'neither a value nor a sum'],
    ['two values', [{ n: 'a', v: 1, vs: 'x' }], 'more than one value'],
    ['a number as text', [{ n: 'a', v: '1' }], 'v must be a number'],
    ['not a finite number', [{ n: 'a', v: Number.NaN }], 'v must be a number'],
  ])('refuses %s', (_, pack, reason) => {
    expect(() => resolveSenml(pack)).toThrow(reason);
  });

  it('ignores other labels that it does not know (4.4)', () => {
    expect(resolveSenml([{ n: 'a', v: 1, extra: 1 }])).toStrictEqual([{ n: 'a', t: 0, v: 1 }]);
  });
});

describe('RFC 8428 section 6, CBOR', () => {
  it('has the labels of table 4', () => {
    expect(CBOR_LABELS).toStrictEqual({
      bver: -1,
      bn: -2,
      bt: -3,
      bu: -4,
      bv: -5,
      bs: -6,
      n: 0,
      u: 1,
      v: 2,
      vs: 3,
      vb: 4,
      s: 5,
      t: 6,
      ut: 7,
      vd: 8,
    });
  });

  it('writes a record as a map by those labels', () => {
    // [{0: "a", 1: "V", 2: 120.1}], put together by hand from RFC 8949 section 3.
    const bytes = '81a300616101615602fb405e066666666666';
    const map = new Map<number, unknown>([
      [0, 'a'],
      [1, 'V'],
      [2, 120.1],
    ]);
    expect(Buffer.from(encode([map])).toString('hex')).toBe(bytes);
    expect(decode(Buffer.from(bytes, 'hex'), { useMaps: true })).toStrictEqual([map]);
  });
});

describe('RFC 7254, IMEI URN', () => {
  it('3GPP TS 23.003 clause 13.8: spare digit 0 in the URN, Luhn digit 7 in the IMEI', () => {
    expect(imeiOfUrn('urn:gsma:imei:90420156-025763-0')).toBe('904201560257637');
    expect(urnOfImei('904201560257637')).toBe('urn:gsma:imei:90420156-025763-0');
    expect(imeiOfUrn('urn:gsma:imei:90420156-025763-7')).toBeUndefined();
  });
});
