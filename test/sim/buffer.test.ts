import * as fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { Reading } from '../../sim/reading.ts';
import type { BufferPlan } from '../../sim/scenario/scenario.ts';
import { ReadingBuffer } from '../../sim/tracker/buffer.ts';

function reading(seq: number): Reading {
  return {
    id: '001010000000016',
    label: '',
    boot: 1,
    seq,
    atMs: 1000 * seq,
    clock: 'gnss',
    fix: 'none',
    latDegE7: null,
    lonDegE7: null,
    altME1: null,
    speedMpsE2: null,
    courseDegE1: null,
    satellites: 0,
    hdopE1: null,
    accuracyME1: null,
    airTempCE2: null,
    humidityPctE1: null,
    pressurePa: null,
    accelMps2E2: null,
    batteryVE3: 4000,
    batteryPct: 90,
    rsrpDbm: null,
    rsrqDbE1: null,
  };
}

const PLAN: BufferPlan = {
  holds: 3,
  whenFull: 'drop-oldest',
  flush: 'oldest-first',
  batchOf: 2,
  survivesPowerLoss: true,
};
const plans: fc.Arbitrary<BufferPlan> = fc.record({
  holds: fc.integer({ min: 0, max: 12 }),
  whenFull: fc.constantFrom('drop-oldest', 'drop-newest'),
  flush: fc.constantFrom('oldest-first', 'newest-first'),
  batchOf: fc.integer({ min: 1, max: 5 }),
  survivesPowerLoss: fc.boolean(),
});
const actions = fc.array(
  fc.oneof({ weight: 8, arbitrary: fc.constant('push' as const) }, fc.constantFrom('flush', 'lose')),
  { maxLength: 80 },
);
const seqs = (readings: readonly Reading[]) => readings.map((r) => r.seq);

function filled(plan: BufferPlan, count: number): { buffer: ReadingBuffer; dropped: number[] } {
  const buffer = new ReadingBuffer(plan);
  const dropped: number[] = [];
  for (let seq = 0; seq < count; seq++) {
    const out = buffer.push(reading(seq));
    if (out) dropped.push(out.seq);
  }
  return { buffer, dropped };
}

describe('ReadingBuffer', () => {
  it('drops the oldest, or the newest, when full', () => {
    const oldest = filled(PLAN, 5);
    expect(oldest.dropped).toEqual([0, 1]);
    expect(oldest.buffer.takeBatches().map(seqs)).toEqual([[2, 3], [4]]);
    const newest = filled({ ...PLAN, whenFull: 'drop-newest' }, 5);
    expect(newest.dropped).toEqual([3, 4]);
    expect(newest.buffer.takeBatches().map(seqs)).toEqual([[0, 1], [2]]);
  });

  it('flushes newest first between batches and inside them', () => {
    const { buffer } = filled({ ...PLAN, flush: 'newest-first' }, 5);
    expect(buffer.takeBatches().map(seqs)).toEqual([[4, 3], [2]]);
  });

  it('loses oldest first, and is empty after', () => {
    const { buffer } = filled({ ...PLAN, flush: 'newest-first' }, 4);
    expect(seqs(buffer.loseAll())).toEqual([1, 2, 3]);
    expect(buffer.size).toBe(0);
    expect(buffer.takeBatches()).toEqual([]);
  });

  it('never loses, doubles or exceeds anything, and keeps the order of the plan', () => {
    fc.assert(
      fc.property(plans, actions, (plan, todo) => {
        const buffer = new ReadingBuffer(plan);
        // The obvious buffer: a list, cut at one end.
        let held: number[] = [];
        const out: number[] = [];
        let pushed = 0;
        for (const action of todo) {
          if (action === 'push') {
            const dropped = buffer.push(reading(pushed));
            held.push(pushed);
            pushed += 1;
            const expected =
              held.length <= plan.holds
                ? undefined
                : plan.whenFull === 'drop-oldest'
                  ? held.shift()
                  : held.pop();
            expect(dropped?.seq).toBe(expected);
            if (dropped) out.push(dropped.seq);
          } else if (action === 'flush') {
            const batches = buffer.takeBatches();
            expect(batches.every((batch) => batch.length > 0 && batch.length <= plan.batchOf)).toBe(true);
            expect(batches).toHaveLength(Math.ceil(held.length / plan.batchOf));
            expect(seqs(batches.flat())).toEqual(plan.flush === 'oldest-first' ? held : held.toReversed());
            out.push(...held);
            held = [];
          } else {
            expect(seqs(buffer.loseAll())).toEqual(held);
            out.push(...held);
            held = [];
          }
          expect(buffer.size).toBe(held.length);
          expect(buffer.size).toBeLessThanOrEqual(plan.holds);
        }
        const all = [...out, ...seqs(buffer.loseAll())].toSorted((a, b) => a - b);
        expect(all).toEqual(Array.from({ length: pushed }, (_, seq) => seq));
      }),
      { seed: 5 },
    );
  });
});
