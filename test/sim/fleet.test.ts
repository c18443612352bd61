import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  FIELDS,
  fleetEvents,
  emissionPayload,
  rosterOf,
  streamDigest,
  trackerEvents,
  type FleetEvent,
  type Reading,
  type Scenario,
} from '../../sim/index.ts';
import { anyDraft, scenarioOf, type Draft } from '../support/scenarios.ts';

const RUNS = { numRuns: 60, seed: 3 };

/** One line per event, payload bytes included. */
function told({ tracker, event }: FleetEvent): string {
  const payload =
    event.kind === 'emission' ? Buffer.from(emissionPayload(tracker, event)).toString('base64') : '';
  return JSON.stringify([tracker.identity.imei, event, payload]);
}

function readingsOf(scenario: Scenario): Reading[] {
  const readings: Reading[] = [];
  for (const { event } of fleetEvents(scenario)) {
    if (event.kind === 'discard' || (event.kind === 'emission' && !event.repeat))
      readings.push(...event.readings);
  }
  return readings;
}

describe('any fleet', () => {
  it('does the same again under the same seed, and something else under another', () => {
    fc.assert(
      fc.property(anyDraft(), (draft) => {
        const once = streamDigest(fleetEvents(scenarioOf(draft)));
        expect(streamDigest(fleetEvents(scenarioOf(draft)))).toBe(once);
        expect(streamDigest(fleetEvents(scenarioOf(draft, 'quite another seed')))).not.toBe(once);
      }),
      { ...RUNS, numRuns: 20 },
    );
  });

  it('is the union of its shards, for 1, 2 and 7', () => {
    fc.assert(
      fc.property(anyDraft(), (draft) => {
        const scenario = scenarioOf(draft);
        const whole = [...fleetEvents(scenario)].map(told).toSorted();
        for (const of of [1, 2, 7]) {
          const parts = Array.from({ length: of }, (_, part) => [...fleetEvents(scenario, { part, of })]);
          expect(parts.flat().map(told).toSorted()).toEqual(whole);
        }
      }),
      { ...RUNS, numRuns: 15 },
    );
  });

  it('tells its events in order of time', () => {
    fc.assert(
      fc.property(anyDraft(), (draft) => {
        let last = -Infinity;
        for (const { event } of fleetEvents(scenarioOf(draft))) {
          expect(event.atMs).toBeGreaterThanOrEqual(last);
          last = event.atMs;
        }
      }),
      RUNS,
    );
  });

  it("doesn't change a tracker when others join, or when others meet faults", () => {
    fc.assert(
      fc.property(anyDraft(), (draft) => {
        const alone = scenarioOf(draft);
        const fleet = draft['fleet'] as readonly Draft[];
        const joined = scenarioOf({
          ...draft,
          fleet: [...fleet, { name: 'late', count: 2, motion: { kind: 'parked', at: 'ostrel-quay' } }],
          faults: [
            ...(draft['faults'] as readonly Draft[]).map((fault) =>
              fault['on'] === 'everyone' ? { ...fault, on: fleet.map((group) => group['name']) } : fault,
            ),
            { kind: 'power-cut', on: 'late', from: '10min', until: '20min' },
          ],
        });
        const first = rosterOf(alone)[0];
        const same = rosterOf(joined)[0];
        if (!first || !same) throw new Error('a fleet has a first tracker');
        expect([...trackerEvents(joined, same)]).toEqual([...trackerEvents(alone, first)]);
      }),
      RUNS,
    );
  });

  it('sends or discards each reading it makes, exactly once, and numbers them without gaps', () => {
    fc.assert(
      fc.property(anyDraft(), (draft) => {
        const scenario = scenarioOf(draft);
        const byBoot = new Map<string, number[]>();
        for (const { id, boot, seq } of readingsOf(scenario)) {
          const key = `${id} ${boot}`;
          byBoot.set(key, [...(byBoot.get(key) ?? []), seq]);
        }
        for (const seqs of byBoot.values()) {
          const sorted = seqs.toSorted((a, b) => a - b);
          const from = sorted[0] ?? 0;
          expect(sorted).toEqual(sorted.map((_, k) => from + k));
        }
      }),
      RUNS,
    );
  });

  it('numbers emissions from 0 without gaps, and only sends between connect and disconnect', () => {
    fc.assert(
      fc.property(anyDraft(), (draft) => {
        const scenario = scenarioOf(draft);
        for (const spec of rosterOf(scenario)) {
          let connected = false;
          let next = 0;
          for (const event of trackerEvents(scenario, spec)) {
            if (event.kind === 'connect' || event.kind === 'disconnect') {
              expect(connected).toBe(event.kind === 'disconnect');
              connected = event.kind === 'connect';
            } else if (event.kind === 'emission') {
              expect(connected).toBe(true);
              expect(event.n).toBe(next);
              expect(event.readings.length).toBeLessThanOrEqual(spec.group.buffer.batchOf);
              next += 1;
            }
          }
          expect(connected).toBe(false);
        }
      }),
      RUNS,
    );
  });

  it('keeps every value within its field, in whole multiples of the resolution', () => {
    fc.assert(
      fc.property(anyDraft(), (draft) => {
        const wrong: string[] = [];
        for (const reading of readingsOf(scenarioOf(draft))) {
          for (const field of FIELDS) {
            if (field.kind !== 'number') continue;
            const scaled = reading[field.key];
            if (scaled === null ? field.nullable : isWithin(scaled, field)) continue;
            wrong.push(`${field.name} ${scaled}`);
          }
        }
        expect(wrong).toEqual([]);
      }),
      RUNS,
    );
  });
});

function isWithin(
  scaled: number,
  { decimals, min, max }: { decimals: number; min: number; max: number },
): boolean {
  const value = scaled / 10 ** decimals;
  return Number.isInteger(scaled) && !Object.is(scaled, -0) && value >= min && value <= max;
}
