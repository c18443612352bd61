// Resolution of a SenML pack (RFC 8428 section 4.6): base fields applied, so that each record stands alone.
import { BadPayload } from './wire.ts';

/** The numeric labels of the CBOR form (RFC 8428 section 6, table 4). */
export const CBOR_LABELS = {
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
} as const;

export type SenmlLabel = keyof typeof CBOR_LABELS;

/** One record as sent, by its JSON labels. */
export interface SenmlRecord {
  readonly bver?: number;
  readonly bn?: string;
  readonly bt?: number;
  readonly bu?: string;
  readonly bv?: number;
  readonly bs?: number;
  readonly n?: string;
  readonly u?: string;
  readonly v?: number;
  readonly vs?: string;
  readonly vb?: boolean;
  readonly vd?: string | Uint8Array;
  readonly s?: number;
  readonly t?: number;
  readonly ut?: number;
}

/** One record that stands alone. */
export interface ResolvedRecord {
  readonly n: string;
  readonly u?: string;
  /** Seconds since 1970-01-01T00:00:00Z, or relative to now where below RELATIVE_BELOW_S. */
  readonly t: number;
  readonly v?: number;
  readonly vs?: string;
  readonly vb?: boolean;
  readonly vd?: string | Uint8Array;
  readonly s?: number;
  readonly ut?: number;
}

/** Times below 2^28 s are relative to now (RFC 8428 section 4.5.3). As Unix time: 1978-07-04T21:24:16Z. */
export const RELATIVE_BELOW_S = 2 ** 28;

/** The version of RFC 8428; the feature bits of RFC 9100 are added to it. We know no feature. */
const VERSION = 10;
/** RFC 8428 section 4.5.1. */
const NAME = /^[A-Za-z0-9][A-Za-z0-9:./_-]*$/;
const TYPES: Readonly<Record<SenmlLabel, readonly string[]>> = {
  bver: ['number'],
  bn: ['string'],
  bt: ['number'],
  bu: ['string'],
  bv: ['number'],
  bs: ['number'],
  n: ['string'],
  u: ['string'],
  v: ['number'],
  vs: ['string'],
  vb: ['boolean'],
  vd: ['string', 'bytes'],
  s: ['number'],
  t: ['number'],
  ut: ['number'],
};

function isLabel(name: string): name is SenmlLabel {
  return Object.hasOwn(TYPES, name);
}

/**
 * `value` as a record: types of the known labels checked. Unknown labels are dropped, but for those that end
 * in `_`, which must be understood (section 4.4). Throws BadPayload; `where` begins the reason.
 */
function checkedRecord(value: unknown, where: string): SenmlRecord {
  if (typeof value !== 'object' || value === null || Array.isArray(value)) {
    throw new BadPayload(`${where}: not a SenML record`);
  }
  const record: Record<string, unknown> = {};
  for (const [name, found] of Object.entries(value)) {
    if (!isLabel(name)) {
      if (name.endsWith('_')) throw new BadPayload(`${where}: ${name} must be understood, and isn't`);
      continue;
    }
    const type = found instanceof Uint8Array ? 'bytes' : typeof found;
    if (!TYPES[name].includes(type) || (type === 'number' && !Number.isFinite(found))) {
      throw new BadPayload(`${where}: ${name} must be a ${TYPES[name].join(' or ')}`);
    }
    record[name] = found;
  }
  return record;
}

/**
 * The records of a SenML pack with the base fields applied, in the order of the pack.
 * With `nowS` (Unix seconds) relative times are made absolute. Throws BadPayload.
 */
export function resolveSenml(pack: unknown, nowS?: number): ResolvedRecord[] {
  if (!Array.isArray(pack)) throw new BadPayload('not a SenML pack: not an array');
  if (pack.length === 0) throw new BadPayload('not a SenML pack: no record in it');
  let bn = '';
  let bt = 0;
  let bu: string | undefined;
  let bv: number | undefined;
  let bs: number | undefined;
  return pack.map((item: unknown, i) => {
    const where = `record ${i + 1}`;
    const r = checkedRecord(item, where);
    if (r.bver !== undefined && !(Number.isInteger(r.bver) && r.bver > 0 && r.bver <= VERSION)) {
      throw new BadPayload(`${where}: bver ${r.bver} isn't known, ${VERSION} is`);
    }
    bn = r.bn ?? bn;
    bt = r.bt ?? bt;
    bu = r.bu ?? bu;
    bv = r.bv ?? bv;
    bs = r.bs ?? bs;
    const n = bn + (r.n ?? '');
    if (!NAME.test(n)) throw new BadPayload(`${where}: ${JSON.stringify(n)} isn't a SenML name`);
    let t = bt + (r.t ?? 0);
    if (nowS !== undefined && t < RELATIVE_BELOW_S) t += nowS;
    return {
      n,
      t,
      ...valueOf(r, bv, bs, where),
      ...unitOf(r.u ?? bu),
      ...(r.ut === undefined ? {} : { ut: r.ut }),
    };
  });
}

function unitOf(u: string | undefined): { u?: string } {
  return u === undefined ? {} : { u };
}

/** Where only one of base value and value is present, the other is 0; likewise for the sum. */
function valueOf(
  r: SenmlRecord,
  bv: number | undefined,
  bs: number | undefined,
  where: string,
): Pick<ResolvedRecord, 'v' | 'vs' | 'vb' | 'vd' | 's'> {
  const sum = r.s === undefined && bs === undefined ? {} : { s: (bs ?? 0) + (r.s ?? 0) };
  const values = [r.v, r.vs, r.vb, r.vd].filter((value) => value !== undefined).length;
  if (values > 1) throw new BadPayload(`${where}: more than one value`);
  if (r.vs !== undefined) return { vs: r.vs, ...sum };
  if (r.vb !== undefined) return { vb: r.vb, ...sum };
  if (r.vd !== undefined) return { vd: r.vd, ...sum };
  if (r.v !== undefined || bv !== undefined) return { v: (bv ?? 0) + (r.v ?? 0), ...sum };
  if (sum.s === undefined) throw new BadPayload(`${where}: neither a value nor a sum`);
  return sum;
}
