// The bytes of an emission: readings through the group's codec, status messages in a JSON of our own.
import type { Emission } from '../tracker/event.ts';
import type { TrackerSpec } from '../tracker/roster.ts';
import { codecFor } from './codec.ts';

/** The payload of an emission of this tracker. */
export function emissionPayload(spec: TrackerSpec, emission: Emission): Uint8Array {
  return emission.purpose === 'readings'
    ? codecFor(spec.group.mqtt.payload).encode(emission.readings)
    : statusPayload(spec, 'online', emission.boot);
}

/** The last will of a tracker: the broker publishes it when the tracker falls silent. */
export function willPayload(spec: TrackerSpec): Uint8Array {
  return statusPayload(spec, 'offline', undefined);
}

function statusPayload(spec: TrackerSpec, state: 'online' | 'offline', boot: number | undefined): Uint8Array {
  return Buffer.from(JSON.stringify({ id: spec.identity.imei, state, boot }));
}
