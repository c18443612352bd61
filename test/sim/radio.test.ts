import * as fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { randomStream } from '../../sim/random.ts';
import type { RadioPlan } from '../../sim/scenario/scenario.ts';
import { RadioModel, type RadioState } from '../../sim/tracker/radio.ts';

const PLAN: RadioPlan = {
  image: 'lte-m',
  sim: 'lte-m',
  outages: null,
  lossLooksLike: 'half-open',
  backOffFirstMs: 10_000,
  backOffLastMs: 60_000,
};
const BURSTS = { stepMs: 1000, toBad: { num: 1, den: 50 }, toGood: { num: 1, den: 10 } };

function modem(plan: RadioPlan = PLAN, name = 'a'): RadioModel {
  return new RadioModel(plan, 0, randomStream('radio', name, 's'), randomStream('radio', name, 'o'));
}

/** States at each second of [0, seconds) with power on from 0; `median` by second. */
function run(plan: RadioPlan, seconds: number, median: (s: number) => number | null): RadioState[] {
  const radio = modem(plan);
  radio.powerOn(0);
  return Array.from({ length: seconds }, (_, s) => radio.step(1000 * s, median(s)));
}

describe('RadioModel', () => {
  it('is silent without power', () => {
    const radio = modem();
    const silent = { registered: false, rsrpDbm: null, rsrqDbE1: null, searchMs: 0 };
    expect(radio.step(0, -90)).toEqual(silent);
    radio.powerOn(1000);
    expect(radio.step(1000, -90).registered).toBe(true);
    radio.powerOff(2000);
    expect(radio.step(3000, -90)).toEqual(silent);
    radio.powerOn(4000);
    expect(radio.step(4000, -90).registered).toBe(true);
  });

  it('never registers with an image for another access technology, and searches all the time', () => {
    const states = run({ ...PLAN, sim: 'nb-iot' }, 3600, () => -80);
    expect(states.some((state) => state.registered || state.rsrpDbm !== null)).toBe(false);
    expect(states.reduce((sum, state) => sum + state.searchMs, 0)).toBe(3_599_000);
  });

  it('deregisters at once when coverage is lost', () => {
    const states = run(PLAN, 20, (s) => (s < 10 ? -90 : null));
    expect(states.map((state) => state.registered)).toEqual(Array.from({ length: 20 }, (_, s) => s < 10));
  });

  it.each([
    // Coverage is lost at 0 s. Attempts start at 0, 20 (10 s search + 10 s wait), 50 (10 + 20), 100 (10 + 40), 170 (10 + 60), 240 …
    [1, 20],
    [20, 20],
    [21, 50],
    [51, 100],
    [101, 170],
    [171, 240],
    [241, 310],
  ])('with coverage back at %i s registers at the attempt at %i s', (backS, registersS) => {
    const states = run(PLAN, 400, (s) => (s < backS ? null : -90));
    expect(states.findIndex((state) => state.registered)).toBe(registersS);
    expect(states.slice(registersS).every((state) => state.registered)).toBe(true);
  });

  it('starts again from the first wait after it was registered, and after a reboot', () => {
    const states = run(PLAN, 400, (s) => (s < 101 || s === 200 ? null : -90));
    expect(states.map((state) => state.registered).indexOf(true, 200)).toBe(220);
    const radio = modem();
    radio.powerOn(0);
    radio.step(300_000, null);
    radio.powerOff(301_000);
    radio.powerOn(302_000);
    expect(radio.step(302_000, null).registered).toBe(false);
    expect(radio.step(321_000, -90).registered).toBe(false);
    expect(radio.step(322_000, -90).registered).toBe(true);
  });

  it('searches for 10 s in each failed attempt, not while it waits or is registered', () => {
    const searched = (states: readonly RadioState[], fromS: number, toS: number) =>
      states.slice(fromS, toS).reduce((sum, state) => sum + state.searchMs, 0);
    const states = run(PLAN, 200, (s) => (s >= 50 && s < 140 ? null : -90));
    expect(searched(states, 0, 51)).toBe(0);
    expect(searched(states, 51, 61)).toBe(10_000);
    expect(searched(states, 61, 71)).toBe(0);
    // Attempts at 50, 70 and 100 fail; the one at 150 does not.
    expect(searched(states, 51, 200)).toBe(30_000);
    expect(states[149]?.registered).toBe(false);
    expect(states[150]?.registered).toBe(true);
  });

  it('counts the same search time in long steps as in short ones', () => {
    const total = (stepS: number) => {
      const radio = modem();
      radio.powerOn(0);
      let sum = 0;
      for (let s = 0; s <= 3600; s += stepS) sum += radio.step(1000 * s, null).searchMs;
      return sum;
    };
    expect(total(60)).toBe(total(1));
    expect(total(900)).toBe(total(1));
  });

  it('has no service in an outage', () => {
    const plan = { ...PLAN, backOffFirstMs: 0, backOffLastMs: 0, outages: BURSTS };
    const states = run(plan, 20_000, () => -90);
    const off = states.filter((state) => !state.registered).length / states.length;
    // At least the share of bad steps, p/(p+r) = 1/6; more, because an attempt comes every 10 s only.
    expect(off).toBeGreaterThan(0.14);
    expect(off).toBeLessThan(0.4);
  });

  it('shadows the signal by 4 dB around its median', () => {
    const radio = modem();
    radio.powerOn(0);
    // Ten correlation times apart: as good as independent.
    const values = Array.from({ length: 4000 }, (_, k) => radio.step(600_000 * k, -90).rsrpDbm ?? Number.NaN);
    const mean = values.reduce((a, b) => a + b, 0) / values.length;
    const variance = values.reduce((sum, x) => sum + (x - mean) ** 2, 0) / values.length;
    expect(Math.abs(mean + 90)).toBeLessThan((3.89 * 4) / Math.sqrt(4000));
    // Rounding to whole dB adds 1/12.
    expect(Math.abs(variance / (16 + 1 / 12) - 1)).toBeLessThan(3.89 * Math.sqrt(2 / 4000));
  });

  it('reports whole dBm and half dB inside the reporting ranges, and nothing unless registered', () => {
    fc.assert(
      fc.property(
        fc.constantFrom('lte-m' as const, 'nb-iot' as const),
        fc.array(fc.tuple(fc.nat(600_000), fc.option(fc.integer({ min: -170, max: -20 }))), {
          maxLength: 60,
        }),
        fc.boolean(),
        (image, steps, outages) => {
          const plan = { ...PLAN, image, sim: image, outages: outages ? BURSTS : null };
          const radio = modem(plan);
          radio.powerOn(0);
          let atMs = 0;
          for (const [dtMs, median] of steps) {
            atMs += dtMs;
            const { registered, rsrpDbm, rsrqDbE1, searchMs } = radio.step(atMs, median);
            expect(searchMs).toBeGreaterThanOrEqual(0);
            expect(searchMs).toBeLessThanOrEqual(dtMs);
            expect([rsrpDbm === null, rsrqDbE1 === null]).toEqual([!registered, !registered]);
            if (median === null) expect(registered).toBe(false);
            if (rsrpDbm === null || rsrqDbE1 === null) continue;
            expect(Number.isInteger(rsrpDbm)).toBe(true);
            expect(rsrpDbm).toBeGreaterThanOrEqual(image === 'lte-m' ? -140 : -156);
            expect(rsrpDbm).toBeLessThanOrEqual(-44);
            expect(Math.abs(rsrqDbE1 % 5)).toBe(0);
            expect(rsrqDbE1).toBeGreaterThanOrEqual(-195);
            expect(rsrqDbE1).toBeLessThanOrEqual(-30);
          }
        },
      ),
      { seed: 7 },
    );
  });

  it('gives worse quality where the signal is weak', () => {
    const mean = (median: number) => {
      const values = run(PLAN, 2000, () => median).flatMap((state) => state.rsrqDbE1 ?? []);
      return values.reduce((a, b) => a + b, 0) / values.length;
    };
    const [strong, middle, weak] = [mean(-80), mean(-120), mean(-127)];
    expect(strong).toBeGreaterThan(middle);
    expect(middle).toBeGreaterThan(weak);
    // Half-loaded cell without noise: -10 log10(12 × 0.5) = -7.8 dB
    expect(Math.abs(strong + 78)).toBeLessThan(5);
  });

  it('keeps its numbers after a coverage hole', () => {
    const whole = run(PLAN, 600, () => -90);
    const holed = run(PLAN, 600, (s) => (s >= 100 && s < 200 ? null : -90));
    expect(holed.slice(400)).toEqual(whole.slice(400));
  });
});
