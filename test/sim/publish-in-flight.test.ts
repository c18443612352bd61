import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { InFlight, type Flight } from '../../sim/publish/in-flight.ts';
import { TimerWheel } from '../../sim/publish/timer-wheel.ts';

function flight(n: number): Flight {
  return {
    n,
    topic: Buffer.from('t'),
    payload: Buffer.alloc(0),
    qos: 1,
    retain: false,
    intendedMs: 0,
    packetId: 0,
    released: false,
  };
}

describe('packet ids', () => {
  it('are 1 to 65535 and never one in use, over more than one round [MQTT-2.3.1-1, -2]', () => {
    const flights = new InFlight();
    // Number 0 is never acknowledged; its id must be passed over when the count comes round.
    flights.add(flight(0));
    const held = [...flights][0]?.packetId;
    for (let n = 1; n <= 140_000; n++) {
      const next = flight(n);
      flights.add(next);
      expect(next.packetId === held || next.packetId < 1 || next.packetId > 65_535).toBe(false);
      if (n > 20) flights.delete([...flights][1]?.packetId ?? 0);
    }
    expect(flights.size).toBe(21);
  });

  it('stay apart and keep the order of sending, whatever is acknowledged when', () => {
    fc.assert(
      fc.property(fc.array(fc.option(fc.nat({ max: 30 })), { maxLength: 200 }), (moves) => {
        const flights = new InFlight();
        let reference: number[] = [];
        moves.forEach((move, n) => {
          const done = move === null ? undefined : [...flights][move];
          if (done) {
            flights.delete(done.packetId);
            reference = reference.filter((each) => each !== done.n);
          } else {
            flights.add(flight(n));
            reference.push(n);
          }
        });
        expect([...flights].map((each) => each.n)).toEqual(reference);
        flights.renumber();
        expect([...flights].map((each) => each.n)).toEqual(reference);
        expect(new Set([...flights].map((each) => each.packetId)).size).toBe(reference.length);
      }),
      { seed: 51 },
    );
  });
});

describe('TimerWheel', () => {
  it('calls each item once, at its tick, also beyond one turn of the wheel', () => {
    fc.assert(
      fc.property(fc.array(fc.integer({ min: 1, max: 1500 }), { maxLength: 20 }), (waits) => {
        const wheel = new TimerWheel();
        const start = wheel.tick;
        const called: number[][] = waits.map(() => []);
        waits.forEach((ticks, k) => {
          const item = { dueTick: 0, beat: () => called[k]?.push(wheel.tick - start) };
          // A first wish, which the second one replaces.
          wheel.schedule(item, ticks + 7);
          wheel.schedule(item, ticks);
        });
        for (let tick = 0; tick < 2100; tick++) wheel.advance();
        expect(called).toEqual(waits.map((ticks) => [ticks]));
      }),
      { seed: 52, numRuns: 30 },
    );
  });

  it('calls nobody who cancelled', () => {
    const wheel = new TimerWheel();
    let calls = 0;
    const item = { dueTick: 0, beat: () => (calls += 1) };
    wheel.schedule(item, 2);
    wheel.cancel(item);
    for (let tick = 0; tick < 600; tick++) wheel.advance();
    expect(calls).toBe(0);
  });
});
