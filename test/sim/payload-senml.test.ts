// Readings as SenML: names, units, times. The standard's own examples are in test/published/senml.test.ts.
import { decode as fromCbor, encode as toCbor, rfc8949EncodeOptions } from 'cborg';
import * as fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { BadInput } from '../../sim/errors.ts';
import { BadPayload, codecFor, wireReading } from '../../sim/payload/codec.ts';
import { QUANTITIES, readingsOfPack, senmlPack } from '../../sim/payload/senml-pack.ts';
import { RELATIVE_BELOW_S, resolveSenml } from '../../sim/payload/senml-resolve.ts';
import { FIELDS } from '../../sim/reading.ts';
import { SOME_READING, anyReading } from './payload-arbitrary.ts';

const RUNS = { seed: 20_310_303, numRuns: 200 };

describe('a reading as a SenML pack', () => {
  it('begins with base name, base time and boot', () => {
    const pack = senmlPack([SOME_READING]);
    expect(pack.slice(0, 3)).toStrictEqual([
      { bn: 'urn:gsma:imei:00499901-064000-0:', bt: 1_930_000_000.123, n: 'boot', u: 'count', v: 1 },
      { n: 'seq', u: 'count', v: 0 },
      { n: 'lat', u: 'lat', v: -38.3912345 },
    ]);
    expect(pack).toContainEqual({ n: 'rsrp', u: 'dBW', v: -131 });
    expect(pack).toContainEqual({ n: 'course', u: 'rad', v: 6.28144 });
    expect(pack).toContainEqual({ n: 'label', vs: 'crate 7' });
  });

  it('holds every number of a reading, in base units', () => {
    const numbers = FIELDS.flatMap((field) => (field.kind === 'number' ? [field.key] : []));
    expect(QUANTITIES.map((q) => q.key)).toStrictEqual(numbers);
    // Base units of the IANA registry "SenML Units" (RFC 8428 section 12.1; m/s2 from memory).
    const registered = [
      'count',
      'lat',
      'lon',
      'm',
      'm/s',
      'rad',
      '/',
      'Cel',
      '%RH',
      'Pa',
      'm/s2',
      'V',
      '%EL',
      'dBW',
      'dB',
    ];
    for (const { u } of QUANTITIES) expect(registered).toContain(u);
  });

  it('has no record for what is absent', () => {
    const names = senmlPack([{ ...SOME_READING, airTempCE2: null, rsrpDbm: null }]).map((r) => r.n);
    expect(names).not.toContain('airTemp');
    expect(names).not.toContain('rsrp');
    expect(names).toContain('humidity');
  });

  it('gives every course back to the tenth of a degree', () => {
    for (let courseDegE1 = 0; courseDegE1 <= 3600; courseDegE1++) {
      const [back] = readingsOfPack(senmlPack([{ ...SOME_READING, courseDegE1 }]));
      expect(back?.['courseDeg']).toBe(courseDegE1 / 10);
    }
  });

  it('says a clock below 2^28 s as base time 0 and a record of its own', () => {
    const last = RELATIVE_BELOW_S * 1000 - 1;
    const readings = [SOME_READING, { ...SOME_READING, atMs: last }, { ...SOME_READING, atMs: last + 1 }];
    const pack = senmlPack(readings);
    expect(pack.filter((r) => r.n === 'at')).toStrictEqual([{ n: 'at', u: 's', v: 268_435_455.999 }]);
    expect(pack.flatMap((r) => (r.bt === undefined ? [] : [r.bt]))).toStrictEqual([
      1_930_000_000.123, 0, 268_435_456,
    ]);
    expect(readingsOfPack(pack)).toStrictEqual(readings.map(wireReading));
    // Whoever resolves the pack sees a measurement made now, not one in 1978.
    expect(resolveSenml(pack, 2e9).find((r) => r.n.endsWith(':at'))?.t).toBe(2e9);
  });

  it('carries the whole IMEI, and refuses an id that it would change', () => {
    expect(() => senmlPack([{ ...SOME_READING, id: '004999010640001' }])).toThrow(BadInput);
    expect(() => senmlPack([{ ...SOME_READING, id: 'truck' }])).toThrow(BadInput);
    expect(() => senmlPack([{ ...SOME_READING, label: 'half \ud83d' }])).toThrow(BadInput);
    expect(readingsOfPack(senmlPack([{ ...SOME_READING, id: '004999010640018' }]))[0]?.['id']).toBe(
      '004999010640018',
    );
  });

  it.each([
    ['a wrong unit', { n: 'airTemp', u: 'K', v: 290 }, 'expected a number in Cel, found unit K'],
    ['an unknown name', { n: 'fuel', u: '%EL', v: 1 }, "fuel isn't known"],
    ['a number twice', { n: 'seq', u: 'count', v: 7 }, 'twice in a reading'],
    ['a second time', { n: 'at', u: 's', v: 7 }, 'twice in a reading, or beside an absolute time'],
    ['another time within a reading', { n: 'airTemp', t: 1, u: 'Cel', v: 1 }, 'device or time changes'],
    [
      'another device',
      { bn: 'urn:gsma:imei:00499901-064001-0:', n: 'airTemp', u: 'Cel', v: 1 },
      'device or time changes',
    ],
    [
      'a device that is no IMEI',
      { bn: 'urn:dev:ow:10e2073a01080063:', n: 'boot', u: 'count', v: 1 },
      "isn't the URN of an IMEI",
    ],
    [
      'a value out of range',
      { n: 'airTemp', u: 'Cel', v: 1000 },
      'airTempC must be a number from -100 to 150',
    ],
    ['text for a number', { n: 'airTemp', u: 'Cel', vs: '4' }, 'expected a number in Cel'],
    ['a reading without its numbers', { n: 'boot', u: 'count', v: 2 }, 'reading 2: no label'],
  ])('refuses %s', (_, record, reason) => {
    const pack = senmlPack([{ ...SOME_READING, airTempCE2: null }]);
    expect(() => readingsOfPack([...pack, record])).toThrow(reason);
    expect(() => readingsOfPack([...pack, record])).toThrow(BadPayload);
  });

  it("refuses records before the first boot, and relative time without the tracker's own", () => {
    expect(() => readingsOfPack(senmlPack([SOME_READING]).slice(1))).toThrow('a reading begins with boot');
    const relative = senmlPack([{ ...SOME_READING, atMs: 5000 }]).filter((r) => r.n !== 'at');
    expect(() => readingsOfPack(relative)).toThrow('relative to now');
  });
});

describe('senml-cbor', () => {
  const codec = codecFor('senml-cbor');

  it('holds the records of senml-json, by numeric labels', () => {
    const maps = fromCbor(codec.encode([SOME_READING]), { useMaps: true }) as Map<number, unknown>[];
    expect([...(maps[0] ?? [])]).toStrictEqual([
      [0, 'boot'],
      [1, 'count'],
      [2, 1],
      [-2, 'urn:gsma:imei:00499901-064000-0:'],
      [-3, 1_930_000_000.123],
    ]);
    const json: unknown = JSON.parse(Buffer.from(codecFor('senml-json').encode([SOME_READING])).toString());
    expect(readingsOfPack(json)).toStrictEqual(codec.decode(codec.encode([SOME_READING])));
    expect(maps).toHaveLength(senmlPack([SOME_READING]).length);
  });

  it('is in core deterministic encoding: encoding what was decoded gives the same bytes', () => {
    fc.assert(
      fc.property(fc.array(anyReading, { minLength: 1, maxLength: 2 }), (readings) => {
        const bytes = codec.encode(readings);
        const again = toCbor(fromCbor(bytes, { useMaps: true, strict: true }), rfc8949EncodeOptions);
        expect(Buffer.from(again).equals(bytes)).toBe(true);
      }),
      RUNS,
    );
  });

  it('refuses a label twice', () => {
    const twice = Buffer.from('81a30061610061620201', 'hex'); // [{0: "a", 0: "b", 2: 1}]
    expect(() => codec.decode(twice)).toThrow(/^not CBOR: /);
  });
});
