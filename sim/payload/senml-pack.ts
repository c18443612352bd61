// Readings as SenML records (RFC 8428), and back. The JSON and the CBOR form share this.
//
// - Each reading begins with a record that sets the base name to the IMEI's URN and a colon (RFC 8428 writes its
//   examples so), and the base time. Its other records follow it at once.
// - Units are base units of the IANA registry, so that no feature bit is needed: dBm travels as dBW, degrees
//   of course as rad. Decoding rounds to the field's resolution, which gives the whole number back exactly.
// - What is absent has no record.
// - Time below 2^28 s would be taken as relative to now (section 4.5.3). A clock that stands there isn't set:
//   the base time is 0, which says just that (made about now, absolute time not known), and a further record
//   `at`, in seconds, holds what the tracker's own clock showed.
import { BadInput } from '../errors.ts';
import { utcText } from '../clock.ts';
import { FIELDS } from '../reading.ts';
import type { NumberKey, Reading } from '../reading.ts';
import { imeiOfUrn, urnOfImei } from './imei-urn.ts';
import { RELATIVE_BELOW_S, resolveSenml } from './senml-resolve.ts';
import type { ResolvedRecord, SenmlRecord } from './senml-resolve.ts';
import { BadPayload, checkedReading } from './wire.ts';
import type { WireReading } from './wire.ts';

interface Quantity {
  /** Name of the record. The unit stands in `u`, so the name doesn't repeat it. */
  readonly n: string;
  /** Base unit of the IANA registry "SenML Units". */
  readonly u: string;
  readonly key: Exclude<NumberKey, 'atMs'>;
  /** Value in `u` of a value in the field's unit, and back. */
  readonly out: (value: number) => number;
  readonly back: (value: number) => number;
}

const same = (value: number): number => value;

function quantity(
  n: string,
  u: string,
  key: Quantity['key'],
  out: Quantity['out'] = same,
  back: Quantity['back'] = same,
): Quantity {
  return { n, u, key, out, back };
}

/** The numbers of a reading, in the order in which they are written; `boot` begins a reading. */
export const QUANTITIES: readonly Quantity[] = [
  quantity('boot', 'count', 'boot'),
  quantity('seq', 'count', 'seq'),
  quantity('lat', 'lat', 'latDegE7'),
  quantity('lon', 'lon', 'lonDegE7'),
  quantity('alt', 'm', 'altME1'),
  quantity('speed', 'm/s', 'speedMpsE2'),
  // 1e-5 rad = 0.0006 degree: fine enough for steps of 0.1 degree, and short.
  quantity(
    'course',
    'rad',
    'courseDegE1',
    (deg) => Math.round(((deg * Math.PI) / 180) * 1e5) / 1e5,
    (rad) => (rad * 180) / Math.PI,
  ),
  quantity('satellites', 'count', 'satellites'),
  quantity('hdop', '/', 'hdopE1'),
  quantity('accuracy', 'm', 'accuracyME1'),
  quantity('airTemp', 'Cel', 'airTempCE2'),
  quantity('humidity', '%RH', 'humidityPctE1'),
  quantity('pressure', 'Pa', 'pressurePa'),
  quantity('accel', 'm/s2', 'accelMps2E2'),
  quantity('voltage', 'V', 'batteryVE3'),
  quantity('battery', '%EL', 'batteryPct'),
  quantity(
    'rsrp',
    'dBW',
    'rsrpDbm',
    (dBm) => dBm - 30,
    (dBW) => dBW + 30,
  ),
  quantity('rsrq', 'dB', 'rsrqDbE1'),
];

const TEXTS = ['label', 'clock', 'fix'] as const;
const BEGINS = 'boot';
const LONE_SURROGATE = /\p{Surrogate}/u;

interface Scaled {
  readonly quantity: Quantity;
  readonly name: string;
  readonly per: number;
}

const scaledOf = (q: Quantity): Scaled => {
  for (const field of FIELDS) {
    if (field.kind === 'number' && field.key === q.key) {
      return { quantity: q, name: field.name, per: 10 ** field.decimals };
    }
  }
  throw new RangeError(`no field ${q.key}`);
};
const SCALED: readonly Scaled[] = QUANTITIES.map(scaledOf);
const BY_NAME: ReadonlyMap<string, Scaled> = new Map(SCALED.map((s) => [s.quantity.n, s]));

/** The records of the readings. Throws RangeError for none; BadInput for an id or label that can't be carried. */
export function senmlPack(readings: readonly Reading[]): SenmlRecord[] {
  if (readings.length === 0) throw new RangeError('a payload holds at least one reading');
  const pack: SenmlRecord[] = [];
  for (const r of readings) {
    if (LONE_SURROGATE.test(r.label)) {
      throw new BadInput(
        `label ${JSON.stringify(r.label)}: expected text that UTF-8 can carry, found a lone surrogate. Mend: take it out, or use payload plain.`,
      );
    }
    const absolute = r.atMs >= RELATIVE_BELOW_S * 1000;
    const base = { bn: `${urnOfImei(r.id)}:`, bt: absolute ? r.atMs / 1000 : 0 };
    for (const { quantity: q, per } of SCALED) {
      const whole = r[q.key];
      if (whole === null) continue;
      const record = { n: q.n, u: q.u, v: q.out(whole / per) };
      pack.push(q.n === BEGINS ? { ...base, ...record } : record);
    }
    for (const n of TEXTS) pack.push({ n, vs: r[n] });
    if (!absolute) pack.push({ n: 'at', u: 's', v: r.atMs / 1000 });
  }
  return pack;
}

interface Draft {
  readonly device: string;
  readonly t: number;
  /** By the names of FIELDS. */
  readonly fields: Record<string, string | number | null>;
}

/** The readings of a SenML pack of ours. Throws BadPayload. */
export function readingsOfPack(pack: unknown): WireReading[] {
  const drafts: Draft[] = [];
  for (const record of resolveSenml(pack)) {
    const colon = record.n.lastIndexOf(':');
    const device = record.n.slice(0, Math.max(colon, 0));
    const name = record.n.slice(colon + 1);
    if (name === BEGINS) drafts.push(newDraft(device, record.t));
    const draft = drafts.at(-1);
    if (draft === undefined) throw new BadPayload(`${record.n}: a reading begins with ${BEGINS}`);
    if (draft.device !== device || draft.t !== record.t) {
      throw new BadPayload(`${record.n}: device or time changes within a reading`);
    }
    take(draft, name, record);
  }
  return drafts.map((draft, i) => {
    if (draft.fields['at'] === undefined) {
      throw new BadPayload(`reading ${i + 1}: the time is relative to now, and there is no record at`);
    }
    return checkedReading(draft.fields, `reading ${i + 1}`);
  });
}

function newDraft(device: string, t: number): Draft {
  const id = imeiOfUrn(device);
  if (id === undefined) throw new BadPayload(`${JSON.stringify(device)} isn't the URN of an IMEI`);
  const fields: Draft['fields'] = { id };
  if (t >= RELATIVE_BELOW_S) fields['at'] = timeText(t);
  for (const field of FIELDS) {
    if (field.kind === 'number' && field.nullable) fields[field.name] = null;
  }
  return { device, t, fields };
}

function timeText(seconds: number): string {
  return utcText(Math.round(seconds * 1000));
}

function take(draft: Draft, name: string, record: ResolvedRecord): void {
  const known = BY_NAME.get(name);
  const isText = (TEXTS as readonly string[]).includes(name);
  if (!known && !isText && name !== 'at') throw new BadPayload(`${record.n}: ${name} isn't known`);
  const target = known?.name ?? name;
  if (draft.fields[target] !== undefined && draft.fields[target] !== null) {
    throw new BadPayload(`${record.n}: twice in a reading, or beside an absolute time`);
  }
  if (isText) {
    if (record.vs === undefined) throw new BadPayload(`${record.n}: expected a text value`);
    draft.fields[target] = record.vs;
    return;
  }
  const u = known?.quantity.u ?? 's';
  if (record.v === undefined || record.u !== u) {
    throw new BadPayload(`${record.n}: expected a number in ${u}, found unit ${record.u ?? '(none)'}`);
  }
  draft.fields[target] = known
    ? Math.round(known.quantity.back(record.v) * known.per) / known.per
    : timeText(record.v);
}
