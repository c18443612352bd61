// Plain JSON (RFC 8259): one reading is an object, several are an array of them. Described by plain.schema.json.
// This is the hot path of a fast run, so the bytes are put together by hand. They equal JSON.stringify of
// wireReading(r), but for coordinates below 1e-6 degree, which JSON.stringify writes with an exponent.
import { Buffer } from 'node:buffer';
import type { Reading } from '../reading.ts';
import { JsonBytes } from './json-bytes.ts';
import { BadPayload, checkedReading, parsedJson } from './wire.ts';
import type { Codec } from './wire.ts';

/** What doesn't change from one reading of a tracker to the next. */
interface Head {
  readonly id: string;
  readonly label: string;
  /** The object's text up to the value of the boot counter. */
  readonly bytes: Uint8Array;
}

/** Far more trackers than a run has in turn; a bound, so that a long-lived process can't grow. */
const MOST_HEADS = 65_536;
const heads = new Map<string, Head>();
let lastHead = makeHead('', '');

function makeHead(id: string, label: string): Head {
  const text = `{"id":${JSON.stringify(id)},"label":${JSON.stringify(label)},"boot":`;
  return { id, label, bytes: Buffer.from(text) };
}

function headOf(r: Reading): Head {
  if (lastHead.id === r.id && lastHead.label === r.label) return lastHead;
  let head = heads.get(r.id);
  if (head === undefined || head.label !== r.label) {
    if (heads.size >= MOST_HEADS) heads.clear();
    head = makeHead(r.id, r.label);
    heads.set(r.id, head);
  }
  lastHead = head;
  return head;
}

function key(name: string, quote = ''): Uint8Array {
  return Buffer.from(`,"${name}":${quote}`);
}

const SEQ = key('seq');
const AT = key('at', '"');
const CLOCK = Buffer.from('Z","clock":"');
const FIX = Buffer.from('","fix":"');
const LAT = Buffer.from('","latDeg":');
const LON = key('lonDeg');
const ALT = key('altM');
const SPEED = key('speedMps');
const COURSE = key('courseDeg');
const SATELLITES = key('satellites');
const HDOP = key('hdop');
const ACCURACY = key('accuracyM');
const AIR_TEMP = key('airTempC');
const HUMIDITY = key('humidityPct');
const PRESSURE = key('pressurePa');
const ACCEL = key('accelMps2');
const BATTERY_V = key('batteryV');
const BATTERY_PCT = key('batteryPct');
const RSRP = key('rsrpDbm');
const RSRQ = key('rsrqDb');
const [OPEN, CLOSE, COMMA, END] = [0x5b, 0x5d, 0x2c, 0x7d] as const;
/** More than everything after the head: 21 keys and the longest numbers. */
const REST_LENGTH = 1024;

function writeObject(out: JsonBytes, r: Reading): void {
  const head = headOf(r).bytes;
  out.reserve(head.length + REST_LENGTH);
  out.raw(head);
  out.integer(r.boot);
  out.raw(SEQ);
  out.integer(r.seq);
  out.raw(AT);
  out.time(r.atMs);
  out.raw(CLOCK);
  out.ascii(r.clock);
  out.raw(FIX);
  out.ascii(r.fix);
  out.raw(LAT);
  out.decimal(r.latDegE7, 7, 1e7);
  out.raw(LON);
  out.decimal(r.lonDegE7, 7, 1e7);
  out.raw(ALT);
  out.decimal(r.altME1, 1, 10);
  out.raw(SPEED);
  out.decimal(r.speedMpsE2, 2, 100);
  out.raw(COURSE);
  out.decimal(r.courseDegE1, 1, 10);
  out.raw(SATELLITES);
  out.integer(r.satellites);
  out.raw(HDOP);
  out.decimal(r.hdopE1, 1, 10);
  out.raw(ACCURACY);
  out.decimal(r.accuracyME1, 1, 10);
  out.raw(AIR_TEMP);
  out.decimal(r.airTempCE2, 2, 100);
  out.raw(HUMIDITY);
  out.decimal(r.humidityPctE1, 1, 10);
  out.raw(PRESSURE);
  out.integer(r.pressurePa);
  out.raw(ACCEL);
  out.decimal(r.accelMps2E2, 2, 100);
  out.raw(BATTERY_V);
  out.decimal(r.batteryVE3, 3, 1000);
  out.raw(BATTERY_PCT);
  out.integer(r.batteryPct);
  out.raw(RSRP);
  out.integer(r.rsrpDbm);
  out.raw(RSRQ);
  out.decimal(r.rsrqDbE1, 1, 10);
  out.byte(END);
}

/** One for all: encoding is synchronous, and the result is a copy. */
const scratch = new JsonBytes();

function encode(readings: readonly Reading[]): Uint8Array {
  if (readings.length === 0) throw new RangeError('a payload holds at least one reading');
  const several = readings.length > 1;
  scratch.clear();
  if (several) scratch.byte(OPEN);
  for (let i = 0; i < readings.length; i++) {
    if (i > 0) scratch.byte(COMMA);
    writeObject(scratch, readings[i] as Reading);
  }
  if (several) scratch.byte(CLOSE);
  return scratch.copy();
}

export const plain: Codec = {
  kind: 'plain',
  encode,
  decode(payload) {
    const value = parsedJson(payload);
    if (!Array.isArray(value)) return [checkedReading(value, 'reading 1')];
    if (value.length === 0) throw new BadPayload('an empty array');
    return value.map((item: unknown, i) => checkedReading(item, `reading ${i + 1}`));
  },
};
