import * as fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { DAY_MS, HOUR_MS, MINUTE_MS } from '../../sim/clock.ts';
import type { BatteryPlan } from '../../sim/scenario/scenario.ts';
import { BatteryModel } from '../../sim/tracker/battery.ts';

const PLAN: BatteryPlan = {
  capacityMah: 1000,
  startPct: 50,
  chargeMa: 0,
  chargeFromMs: 0,
  chargeUntilMs: 0,
  sleepMa: 1,
  gnssMa: 25,
  transmitMa: 200,
  searchMa: 80,
};
const IDLE = { gnssMs: 0, transmitMs: 0, searchMs: 0 };
const NOON_MS = 12 * HOUR_MS;

const uses = fc.record({
  dtMs: fc.integer({ min: 1, max: 3 * HOUR_MS }),
  gnssMs: fc.integer({ min: 0, max: HOUR_MS }),
  transmitMs: fc.integer({ min: 0, max: HOUR_MS }),
  searchMs: fc.integer({ min: 0, max: HOUR_MS }),
  airTempC: fc.integer({ min: -60, max: 80 }),
  off: fc.boolean(),
});
const plans: fc.Arbitrary<BatteryPlan> = fc.record({
  capacityMah: fc.integer({ min: 50, max: 10_000 }),
  startPct: fc.integer({ min: 0, max: 100 }),
  chargeMa: fc.integer({ min: 0, max: 1000 }),
  chargeFromMs: fc.integer({ min: 0, max: DAY_MS }),
  chargeUntilMs: fc.integer({ min: 0, max: DAY_MS }),
  sleepMa: fc.integer({ min: 0, max: 20 }),
  gnssMa: fc.integer({ min: 0, max: 100 }),
  transmitMa: fc.integer({ min: 0, max: 500 }),
  searchMa: fc.integer({ min: 0, max: 200 }),
});

/** Percent after `hours` idle hours of a battery that starts at midnight. */
function pctAfter(plan: BatteryPlan, hours: number, stepMs: number): number {
  const battery = new BatteryModel(plan, 0);
  for (let atMs = stepMs; atMs <= hours * HOUR_MS; atMs += stepMs) {
    battery.spend(stepMs, IDLE, 20, atMs % DAY_MS);
  }
  return battery.pct;
}

describe('BatteryModel', () => {
  it('stays in its bounds, and falls unless charging, whatever the temperature does', () => {
    fc.assert(
      fc.property(plans, fc.array(uses, { maxLength: 50 }), (plan, steps) => {
        const battery = new BatteryModel(plan, 0);
        let atMs = 0;
        for (const { dtMs, airTempC, off, ...use } of steps) {
          const before = battery.pct;
          atMs += dtMs;
          if (off) battery.rest(dtMs, atMs % DAY_MS, airTempC);
          else battery.spend(dtMs, use, airTempC, atMs % DAY_MS);
          for (const whole of [battery.pct, battery.millivolts]) expect(Number.isInteger(whole)).toBe(true);
          expect(battery.pct).toBeGreaterThanOrEqual(0);
          expect(battery.pct).toBeLessThanOrEqual(100);
          expect(battery.millivolts).toBeGreaterThanOrEqual(0);
          expect(battery.millivolts).toBeLessThanOrEqual(4200);
          if (plan.chargeMa === 0 || plan.chargeFromMs === plan.chargeUntilMs) {
            expect(battery.pct).toBeLessThanOrEqual(before);
          }
        }
      }),
      { seed: 6 },
    );
  });

  it('counts each consumer for its own time and sleep for the rest', () => {
    const battery = new BatteryModel({ ...PLAN, capacityMah: 100, startPct: 100, sleepMa: 4 }, 0);
    // 0.2 h × 25 + 0.1 h × 200 + 0.25 h × 80 + 0.45 h × 4 = 46.8 mAh
    battery.spend(
      HOUR_MS,
      { gnssMs: 12 * MINUTE_MS, transmitMs: 6 * MINUTE_MS, searchMs: 15 * MINUTE_MS },
      20,
      NOON_MS,
    );
    expect(battery.pct).toBe(53);
  });

  it('sags under the transmit current, more in the cold, and recovers', () => {
    const after = (transmitMs: number, airTempC: number) => {
      const battery = new BatteryModel({ ...PLAN, sleepMa: 0 }, 0);
      battery.spend(MINUTE_MS, { ...IDLE, transmitMs }, airTempC, NOON_MS);
      const loaded = battery.millivolts;
      battery.rest(MINUTE_MS, NOON_MS, airTempC);
      return { loaded, rested: battery.millivolts };
    };
    const warm = after(1000, 20);
    const cold = after(1000, -20);
    expect(warm.rested - warm.loaded).toBe(30); // 200 mA × 0.15 ohm
    expect(cold.rested - cold.loaded).toBeGreaterThan(warm.rested - warm.loaded);
    expect(after(0, 20).loaded).toBe(warm.rested);
  });

  it('shows a higher voltage on charge', () => {
    const battery = new BatteryModel({ ...PLAN, chargeMa: 100, chargeFromMs: 0, chargeUntilMs: NOON_MS }, 0);
    battery.rest(MINUTE_MS, NOON_MS, 20);
    const charging = battery.millivolts;
    battery.rest(MINUTE_MS, NOON_MS + MINUTE_MS, 20);
    expect(charging - battery.millivolts).toBe(15); // 100 mA × 0.15 ohm
  });

  it('yields less in the cold', () => {
    const lost = (airTempC: number) => {
      const battery = new BatteryModel({ ...PLAN, sleepMa: 10 }, 0);
      battery.spend(10 * HOUR_MS, IDLE, airTempC, NOON_MS);
      return 50 - battery.pct;
    };
    expect(lost(20)).toBe(10);
    expect(lost(40)).toBe(10);
    expect(lost(-10)).toBe(13); // 10 / 0.75
    expect(lost(-20)).toBe(17); // 10 / 0.6
  });

  it('charges in its window only', () => {
    // 100 mA from 08:00 to 10:00, less 1 mA all day: + 200 - 24 mAh of 1000
    const window = { ...PLAN, chargeMa: 100, chargeFromMs: 8 * HOUR_MS, chargeUntilMs: 10 * HOUR_MS };
    expect(pctAfter(window, 8, HOUR_MS)).toBe(49);
    expect(pctAfter(window, 10, HOUR_MS)).toBe(69);
    expect(pctAfter(window, 24, HOUR_MS)).toBe(68);
  });

  it('charges over midnight when the window ends before it starts', () => {
    const window = {
      ...PLAN,
      sleepMa: 0,
      chargeMa: 50,
      chargeFromMs: 22 * HOUR_MS,
      chargeUntilMs: 3 * HOUR_MS,
    };
    expect(pctAfter(window, 3, HOUR_MS)).toBe(65);
    expect(pctAfter(window, 22, HOUR_MS)).toBe(65);
    expect(pctAfter(window, 24, HOUR_MS)).toBe(75);
  });

  it('gives the same charge in one step and in many', () => {
    const window = { ...PLAN, chargeMa: 100, chargeFromMs: 7 * HOUR_MS, chargeUntilMs: 8.5 * HOUR_MS };
    const fine = pctAfter(window, 72, 5 * MINUTE_MS);
    for (const stepH of [1, 3, 24, 72]) expect(pctAfter(window, 72, stepH * HOUR_MS)).toBe(fine);
  });

  it('never fills above full', () => {
    const battery = new BatteryModel(
      { ...PLAN, startPct: 99, chargeMa: 500, chargeFromMs: 0, chargeUntilMs: DAY_MS },
      0,
    );
    battery.spend(5 * HOUR_MS, IDLE, 20, NOON_MS);
    expect([battery.pct, battery.millivolts]).toEqual([100, 4200]);
  });

  it('browns out under load before it is empty, and comes back at 5 %', () => {
    const battery = new BatteryModel(
      { ...PLAN, startPct: 1, chargeMa: 100, chargeFromMs: NOON_MS, chargeUntilMs: DAY_MS },
      0,
    );
    expect(battery.flat).toBe(false);
    battery.spend(MINUTE_MS, { ...IDLE, transmitMs: 1000 }, -40, NOON_MS);
    expect([battery.flat, battery.pct]).toEqual([true, 1]);
    let atMs = NOON_MS;
    while (battery.flat && atMs < DAY_MS) {
      atMs += MINUTE_MS;
      battery.rest(MINUTE_MS, atMs, -20);
    }
    // 4 % of 1000 mAh at 100 mA: 24 minutes, and a little for what was transmitted
    expect([(atMs - NOON_MS) / MINUTE_MS, battery.pct]).toEqual([25, 5]);
  });

  it('starts flat when empty', () => {
    expect(new BatteryModel({ ...PLAN, startPct: 0 }, 0).flat).toBe(true);
  });
});
