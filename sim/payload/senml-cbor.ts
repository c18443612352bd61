// SenML as CBOR, application/senml+cbor (RFC 8428 section 6), in the core deterministic encoding of
// RFC 8949 section 4.2.1: shortest forms, keys in the order of their bytes.
import { decode, encode } from 'cborg';
import { readingsOfPack, senmlPack } from './senml-pack.ts';
import { CBOR_LABELS } from './senml-resolve.ts';
import type { SenmlRecord } from './senml-resolve.ts';
import { BadPayload } from './wire.ts';
import type { Codec } from './wire.ts';

const LABEL_OF: ReadonlyMap<string, number> = new Map(Object.entries(CBOR_LABELS));
const NAME_OF: ReadonlyMap<unknown, string> = new Map(
  Object.entries(CBOR_LABELS).map(([name, label]) => [label, name]),
);

function labelled(record: SenmlRecord): Map<number | string, unknown> {
  const map = new Map<number | string, unknown>();
  for (const [name, value] of Object.entries(record)) map.set(LABEL_OF.get(name) ?? name, value);
  return map;
}

/** A map by numeric labels as a record by JSON labels. */
function named(item: unknown): unknown {
  if (!(item instanceof Map)) return item;
  // A label may be text as well (section 6), so that a record of JSON labels is right too.
  return Object.fromEntries(
    [...item].map(([label, value]: [unknown, unknown]) => [NAME_OF.get(label) ?? String(label), value]),
  );
}

export const senmlCbor: Codec = {
  kind: 'senml-cbor',
  encode: (readings) => encode(senmlPack(readings).map(labelled)),
  decode(payload) {
    let pack: unknown;
    try {
      pack = decode(payload, { useMaps: true, rejectDuplicateMapKeys: true });
    } catch (error) {
      throw new BadPayload(`not CBOR: ${error instanceof Error ? error.message : String(error)}`);
    }
    return readingsOfPack(Array.isArray(pack) ? pack.map(named) : pack);
  },
};
