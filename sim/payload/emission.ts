// The bytes of an emission: readings through the group's codec, status messages in a JSON of our own.
import type { Emission } from '../tracker/event.ts';
import type { TrackerSpec } from '../tracker/roster.ts';
import { codecFor } from './codec.ts';

/** The payload of an emission of this tracker. */
export function emissionPayload(spec: TrackerSpec, emission: Emission): Uint8Array {
  return emission.purpose === 'readings'
    ? codecFor(spec.group.mqtt.payload).encode(emission.readings)
    : bytes({ id: spec.identity.imei, state: 'online', boot: emission.boot, message: emission.n });
}

/** The last will of a tracker: the broker publishes it when the tracker falls silent. */
export function willPayload(spec: TrackerSpec): Uint8Array {
  return bytes({ id: spec.identity.imei, state: 'offline' });
}

function bytes(status: object): Uint8Array {
  return Buffer.from(JSON.stringify(status));
}
