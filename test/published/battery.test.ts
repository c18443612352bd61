// Coulomb counting against its definition, charge = current × time (1 mAh = 3.6 C), and the
// voltages of a lithium-ion cell (common practice: 4.20 V full, 3.6–3.7 V nominal, 3.0 V empty).
import { describe, expect, it } from 'vitest';
import { DAY_MS, HOUR_MS } from '../../sim/clock.ts';
import type { BatteryPlan } from '../../sim/scenario/scenario.ts';
import { BatteryModel } from '../../sim/tracker/battery.ts';

const IDLE = { gnssMs: 0, transmitMs: 0, searchMs: 0 };
const ROOM_C = 20;

function plan(sleepMa: number, startPct = 100): BatteryPlan {
  return {
    capacityMah: 2000,
    startPct,
    chargeMa: 0,
    chargeFromMs: 0,
    chargeUntilMs: 0,
    sleepMa,
    gnssMa: 25,
    transmitMa: 200,
    searchMa: 80,
  };
}

function pctAfter(hours: number, sleepMa: number): number {
  const battery = new BatteryModel(plan(sleepMa), 0);
  for (let hour = 1; hour <= hours; hour++) battery.spend(HOUR_MS, IDLE, ROOM_C, (hour * HOUR_MS) % DAY_MS);
  return battery.pct;
}

describe('charge', () => {
  it('2000 mAh at 10 mA last 200 hours, 0.5 % an hour', () => {
    const battery = new BatteryModel(plan(10), 0);
    let hours = 0;
    while (!battery.flat) {
      battery.spend(HOUR_MS, IDLE, ROOM_C, (hours * HOUR_MS) % DAY_MS);
      hours += 1;
      expect(Math.abs(battery.pct - (100 - 0.5 * hours))).toBeLessThanOrEqual(0.5);
    }
    expect(hours).toBe(200);
    expect(battery.pct).toBe(0);
  });

  it('1 mA is 24 mAh a day: 1.2 % of 2000 mAh', () => {
    expect(pctAfter(24 * 50, 1)).toBe(100 - 60);
    expect(pctAfter(24 * 10, 6) - pctAfter(24 * 10, 7)).toBe(12);
  });
});

describe('voltage without load', () => {
  it.each([
    [100, 4200, 4200],
    [50, 3600, 3700],
    [0, 3000, 3000],
  ])('at %i %% lies from %i to %i mV', (startPct, lowMv, highMv) => {
    const { millivolts } = new BatteryModel(plan(0, startPct), 0);
    expect(millivolts).toBeGreaterThanOrEqual(lowMv);
    expect(millivolts).toBeLessThanOrEqual(highMv);
  });
});
