// SenML as JSON, application/senml+json (RFC 8428 section 5).
import { Buffer } from 'node:buffer';
import { readingsOfPack, senmlPack } from './senml-pack.ts';
import { parsedJson } from './wire.ts';
import type { Codec } from './wire.ts';

export const senmlJson: Codec = {
  kind: 'senml-json',
  encode: (readings) => Buffer.from(JSON.stringify(senmlPack(readings))),
  decode: (payload) => readingsOfPack(parsedJson(payload)),
};
