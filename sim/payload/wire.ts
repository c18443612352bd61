// What every codec shares: the seam, a reading in physical values, and what a well-formed reading is.
import { parseUtc, utcText } from '../clock.ts';
import { FIELDS, type Field, type Reading } from '../reading.ts';
import type { PayloadKind } from '../scenario/scenario.ts';

/**
 * A reading as it is read from a payload: keyed by the names of FIELDS, numbers in the field's unit
 * (`latDeg` in degrees), `at` as RFC 3339 text in UTC with milliseconds, null for absent.
 */
export type WireReading = Readonly<Record<string, string | number | null>>;

/** Turns readings into the bytes of one message, and back. */
export interface Codec {
  readonly kind: PayloadKind;
  /** One reading or more; RangeError for none. The senml kinds throw BadInput for what SenML can't carry. */
  encode(readings: readonly Reading[]): Uint8Array;
  /** The readings in the order in which they stand in the payload. Throws BadPayload. */
  decode(payload: Uint8Array): WireReading[];
}

/** A payload that doesn't hold readings. `message` is one line: what is wrong with it. */
export class BadPayload extends Error {
  override readonly name = 'BadPayload';

  constructor(reason: string) {
    // Libraries quote the payload in their messages, line ends included.
    super(reason.replaceAll(/[\p{Cc}\u2028\u2029]+/gu, ' ').slice(0, 300));
  }
}

/** The values that an enumerated text field may have. */
export const TEXT_VALUES: Readonly<Record<string, readonly string[]>> = {
  clock: ['unset', 'network', 'gnss'],
  fix: ['none', 'last', '2d', '3d'],
};

/** A 15-digit IMEI. Text, because test IMEIs start with 0. */
export const ID_TEXT = /^[0-9]{15}$/;

/** The one form of time that is written. Narrower than RFC 3339: UTC, `Z`, exactly three digits. */
export const AT_TEXT =
  /^[0-9]{4}-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])T([01][0-9]|2[0-3]):[0-5][0-9]:[0-5][0-9]\.[0-9]{3}Z$/;

function scaled(value: number | null, per: number): number | null {
  return value === null ? null : value / per;
}

/**
 * The reading in physical values. A whole number divided by a power of ten is the double nearest to the
 * decimal (IEEE 754 division rounds once), so it equals `Number` of the decimal text.
 */
export function wireReading(r: Reading): WireReading {
  // One literal, so that every reading has the same hidden class; a test holds it against FIELDS.
  return {
    id: r.id,
    label: r.label,
    boot: r.boot,
    seq: r.seq,
    at: utcText(r.atMs),
    clock: r.clock,
    fix: r.fix,
    latDeg: scaled(r.latDegE7, 1e7),
    lonDeg: scaled(r.lonDegE7, 1e7),
    altM: scaled(r.altME1, 10),
    speedMps: scaled(r.speedMpsE2, 100),
    courseDeg: scaled(r.courseDegE1, 10),
    satellites: r.satellites,
    hdop: scaled(r.hdopE1, 10),
    accuracyM: scaled(r.accuracyME1, 10),
    airTempC: scaled(r.airTempCE2, 100),
    humidityPct: scaled(r.humidityPctE1, 10),
    pressurePa: r.pressurePa,
    accelMps2: scaled(r.accelMps2E2, 100),
    batteryV: r.batteryVE3 / 1000,
    batteryPct: r.batteryPct,
    rsrpDbm: r.rsrpDbm,
    rsrqDb: scaled(r.rsrqDbE1, 10),
  };
}

const NEEDED_WITH_FIX = ['latDeg', 'lonDeg'] as const;
const NULL_WITHOUT_FIX = ['latDeg', 'lonDeg', 'altM', 'speedMps', 'courseDeg'] as const;

const NAMES: ReadonlySet<string> = new Set(FIELDS.map((field) => field.name));

function isRecord(value: unknown): value is Record<string, unknown> {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}

/**
 * `value` as a reading, once every field is there with the right type and within its range, and no other
 * field is. `where` begins the reason, e.g. `reading 3`. Throws BadPayload.
 */
export function checkedReading(value: unknown, where: string): WireReading {
  if (!isRecord(value)) throw new BadPayload(`${where}: not an object`);
  const reading: Record<string, string | number | null> = {};
  for (const field of FIELDS) {
    if (!Object.hasOwn(value, field.name)) throw new BadPayload(`${where}: no ${field.name}`);
    reading[field.name] = checkedValue(field, value[field.name], where);
  }
  for (const name of Object.keys(value)) {
    if (!NAMES.has(name)) throw new BadPayload(`${where}: ${JSON.stringify(name)} isn't a field`);
  }
  const placed = reading['fix'] !== 'none';
  for (const name of placed ? NEEDED_WITH_FIX : NULL_WITHOUT_FIX) {
    if ((reading[name] === null) === placed) {
      throw new BadPayload(
        `${where}: fix is ${reading['fix']}, so ${name} must ${placed ? 'not ' : ''}be null`,
      );
    }
  }
  return reading;
}

// Called for every value of every message: no closure, and no words before something is wrong.
function checkedValue(field: Field, value: unknown, where: string): string | number | null {
  if (field.kind === 'number') {
    if (value === null && field.nullable) return null;
    const fits =
      typeof value === 'number' &&
      value >= field.min &&
      value <= field.max &&
      (field.decimals > 0 || Number.isInteger(value));
    if (!fits) throw wrongValue(field, value, where);
    return value + 0; // -0 is JSON, yet no reading holds it
  }
  if (typeof value !== 'string') throw wrongValue(field, value, where);
  if (field.kind === 'time') {
    if (!AT_TEXT.test(value) || parseUtc(value) === undefined) throw wrongValue(field, value, where);
    return value;
  }
  const allowed = TEXT_VALUES[field.name];
  if (allowed !== undefined && !allowed.includes(value)) throw wrongValue(field, value, where);
  if (field.key === 'id' && !ID_TEXT.test(value)) throw wrongValue(field, value, where);
  return value;
}

function wrongValue(field: Field, value: unknown, where: string): BadPayload {
  return new BadPayload(
    `${where}: ${field.name} must be ${wantedValue(field, value)}, found ${JSON.stringify(value)}`,
  );
}

function wantedValue(field: Field, value: unknown): string {
  if (field.kind === 'number') {
    return `${field.decimals === 0 ? 'a whole number' : 'a number'} from ${field.min} to ${field.max}`;
  }
  if (typeof value !== 'string') return 'text';
  if (field.kind === 'time') return 'a time such as 2031-03-03T00:01:00.000Z';
  return field.key === 'id' ? '15 digits' : `one of ${TEXT_VALUES[field.name]?.join(', ')}`;
}

const UTF8 = new TextDecoder('utf-8', { fatal: true, ignoreBOM: true });

/** The JSON value of the bytes. Throws BadPayload where they aren't JSON in UTF-8. */
export function parsedJson(payload: Uint8Array): unknown {
  let text: string;
  try {
    text = UTF8.decode(payload);
  } catch {
    throw new BadPayload('not UTF-8');
  }
  try {
    return JSON.parse(text);
  } catch (error) {
    throw new BadPayload(`not JSON: ${error instanceof Error ? error.message : String(error)}`);
  }
}
