// Every codec against the same cases, and the plain payload in detail.
import { Ajv2020 } from 'ajv/dist/2020.js';
import * as fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { BadPayload, codecFor, decoderFor, wireReading } from '../../sim/payload/codec.ts';
import type { Codec, WireReading } from '../../sim/payload/codec.ts';
import { JsonBytes } from '../../sim/payload/json-bytes.ts';
import schema from '../../sim/payload/plain.schema.json' with { type: 'json' };
import { AT_TEXT, ID_TEXT, TEXT_VALUES } from '../../sim/payload/wire.ts';
import { FIELDS } from '../../sim/reading.ts';
import type { Field } from '../../sim/reading.ts';
import { encodeCosts, madeUp } from '../bench/encode.ts';
import { SOME_READING, anyReading } from './payload-arbitrary.ts';

const KINDS = ['plain', 'senml-json', 'senml-cbor'] as const;
const RUNS = { seed: 20_310_303, numRuns: 300 };
const validates = new Ajv2020({ strict: true, allErrors: true }).compile(schema);
const textOf = (bytes: Uint8Array): string => Buffer.from(bytes).toString('utf8');
const bytesOf = (text: string): Uint8Array => Buffer.from(text, 'utf8');

/** The readings, or why there are none; any error but BadPayload is thrown on. */
function decodedOrRefusal(codec: Codec, payload: Uint8Array): WireReading[] | BadPayload {
  try {
    return codec.decode(payload);
  } catch (error) {
    if (error instanceof BadPayload) return error;
    throw error;
  }
}

/** What the schema should say of a field. */
function schemaOf(field: Field): Record<string, unknown> {
  if (field.kind === 'time') {
    return { description: field.about, type: 'string', pattern: AT_TEXT.source };
  }
  if (field.kind === 'text') {
    const values = TEXT_VALUES[field.name];
    return {
      description: field.about,
      type: 'string',
      ...(field.key === 'id' ? { pattern: ID_TEXT.source } : {}),
      ...(values === undefined ? {} : { enum: values }),
    };
  }
  const type = field.decimals === 0 ? 'integer' : 'number';
  const resolution = (1 / 10 ** field.decimals).toFixed(field.decimals);
  return {
    description: `${field.about}; unit ${field.unit}; resolution ${resolution}`,
    type: field.nullable ? [type, 'null'] : type,
    minimum: field.min,
    maximum: field.max,
  };
}

describe.each(KINDS)('codec %s', (kind) => {
  const codec = codecFor(kind);

  it('gives back exactly what was encoded, one reading or several', () => {
    expect(codec.kind).toBe(kind);
    fc.assert(
      fc.property(fc.array(anyReading, { minLength: 1, maxLength: 4 }), (readings) => {
        expect(decoderFor(kind)(codec.encode(readings))).toStrictEqual(readings.map(wireReading));
      }),
      RUNS,
    );
  });

  it('writes the same bytes again, whatever was encoded in between', () => {
    const before = textOf(codec.encode([SOME_READING]));
    const kept = codec.encode([SOME_READING]);
    codec.encode([{ ...SOME_READING, label: 'x'.repeat(40_000) }]);
    codec.encode([{ ...SOME_READING, label: 'another', atMs: 5 }]);
    expect(textOf(kept)).toBe(before);
    expect(textOf(codec.encode([SOME_READING]))).toBe(before);
  });

  it('keeps text as it is', () => {
    for (const label of [
      '',
      '007',
      '=1+1',
      'say "hi"',
      'a,b\r\nc\\',
      '\0\u2028',
      '👩‍🌾 crate',
      'e\u0301',
      'x'.repeat(70_000),
    ]) {
      const decoded = codec.decode(codec.encode([{ ...SOME_READING, label }]));
      expect(decoded.map((r) => r['label'])).toStrictEqual([label]);
    }
  });

  it('refuses what holds no readings, with one line', () => {
    const good = codec.encode([SOME_READING]);
    const status = bytesOf('{"status":\n"online"}');
    for (const payload of [
      new Uint8Array(),
      good.subarray(0, -1),
      status,
      bytesOf('[]'),
      Uint8Array.of(0x80),
      Uint8Array.of(0xff),
    ]) {
      const refusal = decodedOrRefusal(codec, payload);
      expect(refusal).toBeInstanceOf(BadPayload);
      expect(refusal).toHaveProperty('message', expect.not.stringMatching(/[\r\n]/));
    }
  });

  it('answers any damage to a payload with readings or BadPayload, nothing else', () => {
    const good = codec.encode([SOME_READING, { ...SOME_READING, seq: 1, atMs: 5 }]);
    const place = fc.nat({ max: good.length - 1 });
    const damage = fc.array(fc.tuple(place, fc.integer({ min: 0, max: 255 })), {
      minLength: 1,
      maxLength: 3,
    });
    let refused = 0;
    fc.assert(
      fc.property(damage, (changes) => {
        const bad = Uint8Array.from(good);
        for (const [at, value] of changes) bad[at] = value;
        // Any other error comes through, and fails the property.
        if (decodedOrRefusal(codec, bad) instanceof BadPayload) refused++;
      }),
      { ...RUNS, numRuns: 1000 },
    );
    expect(refused).toBeGreaterThan(100);
  });

  it('has no payload for no reading', () => {
    expect(() => codec.encode([])).toThrow(RangeError);
  });
});

describe('plain', () => {
  const codec = codecFor('plain');

  it('writes the fields in the order of FIELDS, as shortest decimals', () => {
    expect(textOf(codec.encode([SOME_READING]))).toBe(
      '{"id":"004999010640000","label":"crate 7","boot":1,"seq":0,"at":"2031-02-27T23:06:40.123Z","clock":"gnss","fix":"3d",' +
        '"latDeg":-38.3912345,"lonDeg":-14.2,"altM":12.5,"speedMps":0,"courseDeg":359.9,"satellites":9,"hdop":0.9,"accuracyM":3.1,' +
        '"airTempC":-18.05,"humidityPct":100,"pressurePa":101325,"accelMps2":0.05,"batteryV":3.7,"batteryPct":80,"rsrpDbm":-101,"rsrqDb":-10.5}',
    );
  });

  it('holds whole numbers divided by 10^decimals, byte for byte as JSON.stringify writes them', () => {
    fc.assert(
      fc.property(anyReading, (r) => {
        const text = textOf(codec.encode([r]));
        const byFields = Object.fromEntries(
          FIELDS.map((field) => {
            if (field.kind === 'time') return [field.name, new Date(r.atMs).toISOString()];
            const value = r[field.key];
            return [
              field.name,
              field.kind === 'number' && typeof value === 'number' ? value / 10 ** field.decimals : value,
            ];
          }),
        );
        expect(JSON.parse(text)).toStrictEqual(byFields);
        expect(wireReading(r)).toStrictEqual(byFields);
        expect(Object.keys(wireReading(r))).toStrictEqual(FIELDS.map((field) => field.name));
        // JSON.stringify turns to exponents below 1e-6, which a coordinate may be.
        const noExponent = JSON.stringify(byFields).replaceAll(/:(-?)(\d)e-7/g, ':$10.000000$2');
        expect(text).toBe(noExponent);
      }),
      RUNS,
    );
  });

  it('writes an array for several readings, and escapes a lone surrogate', () => {
    const readings = [SOME_READING, { ...SOME_READING, seq: 1, label: 'half \ud83d' }];
    const text = textOf(codec.encode(readings));
    expect(text).toBe(JSON.stringify(readings.map(wireReading)));
    expect(text).toContain('half \\ud83d');
  });

  it('writes decimals without exponent, trailing zeros or -0', () => {
    const decimal = (n: number | null, decimals: number): string => {
      const out = new JsonBytes();
      out.decimal(n, decimals, 10 ** decimals);
      return textOf(out.copy());
    };
    expect(decimal(1, 7)).toBe('0.0000001');
    expect(decimal(-9, 7)).toBe('-0.0000009');
    expect(decimal(-0, 7)).toBe('0');
    expect(decimal(-1_800_000_000, 7)).toBe('-180');
    expect(decimal(1_799_999_999, 7)).toBe('179.9999999');
    expect(decimal(900_010_000, 7)).toBe('90.001');
    expect(decimal(-5, 1)).toBe('-0.5');
    expect(decimal(null, 1)).toBe('null');
    const largest = new JsonBytes();
    largest.integer(Number.MAX_SAFE_INTEGER);
    expect(textOf(largest.copy())).toBe('9007199254740991');
  });

  it('is described by its schema: every encoded reading validates', () => {
    fc.assert(
      fc.property(fc.array(anyReading, { minLength: 1, maxLength: 3 }), (readings) => {
        validates(JSON.parse(textOf(codec.encode(readings))));
        expect(validates.errors).toBeNull();
      }),
      RUNS,
    );
  });

  it('has a schema that says what FIELDS says', () => {
    const { reading } = schema.$defs;
    expect(schema.$id).toBe('urn:wayproof:payload:plain:1');
    expect(reading.required).toStrictEqual(FIELDS.map((field) => field.name));
    expect(Object.keys(reading.properties)).toStrictEqual(reading.required);
    expect(reading.properties).toStrictEqual(
      Object.fromEntries(FIELDS.map((field) => [field.name, schemaOf(field)])),
    );
  });

  it('refuses exactly what the schema refuses', () => {
    const good = wireReading(SOME_READING);
    const strange = [
      null,
      '',
      '0',
      0,
      -1,
      1.5,
      1e9,
      true,
      [],
      'none',
      '2031-03-03T00:01:00Z',
      '2031-03-03T24:00:00.000Z',
    ];
    let refused = 0;
    for (const { name } of FIELDS) {
      const { [name]: _, ...without } = good;
      for (const changed of [without, ...strange.map((value) => ({ ...good, [name]: value }))]) {
        const found = decodedOrRefusal(codec, bytesOf(JSON.stringify(changed)));
        const reason = found instanceof BadPayload ? found.message : undefined;
        expect([changed, reason === undefined]).toStrictEqual([changed, validates(changed)]);
        if (reason === undefined) continue;
        refused++;
        expect(reason).toMatch(new RegExp(`^reading 1: .*(${name}|fix is none)`));
      }
    }
    expect(refused).toBeGreaterThan(150);
    expect(() => codec.decode(bytesOf(JSON.stringify({ ...good, more: 1 })))).toThrow(
      '"more" isn\'t a field',
    );
    // A pattern can't count the days of a month; decoding does.
    expect(() => codec.decode(bytesOf(JSON.stringify({ ...good, at: '2023-02-29T00:00:00.000Z' })))).toThrow(
      'reading 1: at must be',
    );
  });
});

describe('the encoding benchmark', () => {
  it('encodes the same readings every way', () => {
    const costs = encodeCosts(madeUp, 40, 1);
    expect(costs.map((cost) => cost.way)).toContain('plain, to bytes');
    const work = new Map(costs.map((cost) => [cost.way, cost.work]));
    expect(work.get('plain, to bytes')).toBe(work.get('JSON.stringify to bytes'));
  });
});
