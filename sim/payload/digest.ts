// SHA-256 over everything a fleet tries to send: the fingerprint of a scenario and seed.
import { createHash } from 'node:crypto';
import type { FleetEvent } from '../fleet/fleet.ts';
import { emissionPayload } from './emission.ts';

/** Hex digest of the emission stream: who, when, where to, how, and the payload bytes, before any transport. */
export function streamDigest(events: Iterable<FleetEvent>): string {
  const hash = createHash('sha256');
  for (const { tracker, event } of events) {
    if (event.kind !== 'emission') continue;
    const { n, atMs, topic, qos, retain } = event;
    hash.update(JSON.stringify([tracker.identity.imei, n, atMs, topic, qos, retain]));
    hash.update(emissionPayload(tracker, event));
  }
  return hash.digest('hex');
}
