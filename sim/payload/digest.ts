// SHA-256 over everything a fleet tries to send: the fingerprint of a scenario and seed.
import { createHash } from 'node:crypto';
import type { FleetEvent } from '../fleet/fleet.ts';
import type { Emission } from '../tracker/event.ts';
import type { TrackerSpec } from '../tracker/roster.ts';
import { emissionPayload } from './emission.ts';

/** Takes emissions in fleet order: who, when, where to, how, and the payload bytes, before any transport. */
export class StreamDigest {
  readonly #hash = createHash('sha256');

  add(tracker: TrackerSpec, emission: Emission, payload: Uint8Array): void {
    const { n, atMs, topic, qos, retain } = emission;
    this.#hash.update(JSON.stringify([tracker.identity.imei, n, atMs, topic, qos, retain]));
    this.#hash.update(payload);
  }

  /** Hex digest. Call once, at the end. */
  hex(): string {
    return this.#hash.digest('hex');
  }
}

/** The digest of a whole stream of events. */
export function streamDigest(events: Iterable<FleetEvent>): string {
  const digest = new StreamDigest();
  for (const { tracker, event } of events) {
    if (event.kind === 'emission') digest.add(tracker, event, emissionPayload(tracker, event));
  }
  return digest.hex();
}
