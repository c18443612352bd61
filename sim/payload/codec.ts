// The payload kinds, and where to get each one's codec.
import type { PayloadKind } from '../scenario/scenario.ts';
import { plain } from './plain.ts';
import { senmlCbor } from './senml-cbor.ts';
import { senmlJson } from './senml-json.ts';
import type { Codec } from './wire.ts';

export { BadPayload, wireReading } from './wire.ts';
export type { Codec, WireReading } from './wire.ts';

const CODECS: Readonly<Record<PayloadKind, Codec>> = {
  plain,
  'senml-json': senmlJson,
  'senml-cbor': senmlCbor,
};

export function codecFor(kind: PayloadKind): Codec {
  return CODECS[kind];
}

/** The decoding half alone, for who only reads: payload bytes → readings; throws BadPayload. */
export function decoderFor(kind: PayloadKind): Codec['decode'] {
  return (payload) => CODECS[kind].decode(payload);
}
