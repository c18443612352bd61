// What the sensors add to the truth. Two models of one seed draw the same weather and the same noise,
// so their difference is the error alone.
import { describe, expect, it } from 'vitest';
import { DAY_MS, MINUTE_MS } from '../../sim/clock.ts';
import type { SensorName, SensorPlan } from '../../sim/scenario/scenario.ts';
import { NO_SENSOR_FAULTS, type SensorFaults, type SensorsSample } from '../../sim/tracker/sensors.ts';
import { mean, overlappingAllanDeviation, variance } from '../support/statistics.ts';
import { PARKED, PERFECT, RIDING, sensors, START_MS } from '../support/sensors.ts';

/** Pressure error, Pa, at n readings. */
function pressureErrors(plan: Partial<SensorPlan>, n: number, everyMs: number, seed = 'errors'): number[] {
  const erring = sensors({ pressure: { ...PERFECT, ...plan } }, seed);
  const perfect = sensors({}, seed);
  return Array.from({ length: n }, (_, k) => {
    const atMs = START_MS + (k + 1) * everyMs;
    const found = erring.sample(atMs, PARKED, NO_SENSOR_FAULTS).pressurePa ?? Number.NaN;
    return found - (perfect.sample(atMs, PARKED, NO_SENSOR_FAULTS).pressurePa ?? Number.NaN);
  });
}

describe('errors of a sensor', () => {
  it('bias and linear drift', () => {
    const errors = pressureErrors({ bias: 40, driftPerDay: -100 }, 10, DAY_MS);
    errors.forEach((error, k) => expect(Math.abs(error - (40 - 100 * (k + 1)))).toBeLessThanOrEqual(1));
  });

  it('noise is white and of the stated deviation', () => {
    const n = 20_000;
    const errors = pressureErrors({ noise: 100 }, n, MINUTE_MS);
    expect(Math.abs(mean(errors))).toBeLessThan((4 * 100) / Math.sqrt(n));
    expect(Math.abs(variance(errors) / 1e4 - 1)).toBeLessThan(4 * Math.sqrt(2 / n));
    // White noise: slope -1/2 of the Allan deviation (IEEE Std 952).
    for (const m of [1, 8, 64]) {
      const ratio = (overlappingAllanDeviation(errors, m) * Math.sqrt(m)) / 100;
      expect(Math.abs(ratio - 1)).toBeLessThan(4 * Math.sqrt(m / n));
    }
  });

  it('the bias walks by the stated deviation in one day, twice as far in four', () => {
    const seeds = Array.from({ length: 1500 }, (_, k) => `walk ${k}`);
    const walks = seeds.map((seed) => pressureErrors({ walkPerSqrtDay: 300 }, 4, DAY_MS, seed));
    for (const days of [1, 4]) {
      const found = variance(walks.map((walk) => walk[days - 1] ?? Number.NaN));
      expect(Math.abs(found / (300 ** 2 * days) - 1)).toBeLessThan(4 * Math.sqrt(2 / seeds.length) + 0.01);
    }
  });

  it('a random walk has the published Allan deviation', () => {
    // AVAR(m) = s^2 (2 m^2 + 1) / (6 m) with steps of s a reading.
    const n = 40_000;
    const s = 1000 * Math.sqrt((10 * MINUTE_MS) / DAY_MS);
    const errors = pressureErrors({ walkPerSqrtDay: 1000 }, n, 10 * MINUTE_MS);
    // Long walks leave the field's range, where the sensor is clamped: take the run before.
    const end = errors.findIndex((error) => Math.abs(error) > 15_000);
    const run = end < 0 ? errors : errors.slice(0, end);
    expect(run.length).toBeGreaterThan(5000);
    for (const m of [1, 4, 16]) {
      const expected = s * Math.sqrt((2 * m * m + 1) / (6 * m));
      const tolerance = 4 * Math.sqrt(m / run.length);
      expect(Math.abs(overlappingAllanDeviation(run, m) / expected - 1)).toBeLessThan(tolerance);
    }
  });
});

const NAMES: readonly SensorName[] = ['airTemp', 'humidity', 'pressure', 'accel'];
const KEY = {
  airTemp: 'airTempCE2',
  humidity: 'humidityPctE1',
  pressure: 'pressurePa',
  accel: 'accelMps2E2',
} as const satisfies Record<SensorName, keyof SensorsSample>;

const NOISY: SensorPlan = { noise: 0.5, bias: 0.1, driftPerDay: 0.1, walkPerSqrtDay: 0.2 };

/** Riding for n minutes, with `faults` in readings [from, until). */
function ride(n: number, faults: SensorFaults, from: number, until: number): SensorsSample[] {
  const model = sensors({
    airTemp: NOISY,
    humidity: NOISY,
    pressure: NOISY,
    accel: NOISY,
    enclosureLagS: 600,
    shocksPerHour: 10,
  });
  return Array.from({ length: n }, (_, k) =>
    model.sample(START_MS + k * MINUTE_MS, RIDING, k >= from && k < until ? faults : NO_SENSOR_FAULTS),
  );
}

const only = (name: SensorName, kind: 'stuck' | 'silent' | 'spike'): SensorFaults => ({
  ...NO_SENSOR_FAULTS,
  ...(kind === 'spike'
    ? { spike: (s: SensorName) => (s === name ? { by: 30, share: { num: 1, den: 4 } } : undefined) }
    : { [kind]: (s: SensorName) => s === name }),
});

describe('faults', () => {
  const n = 400;
  const clean = ride(n, NO_SENSOR_FAULTS, 0, 0);

  it.each(
    NAMES.flatMap((name) => (['stuck', 'silent', 'spike'] as const).map((kind) => [name, kind] as const)),
  )('%s %s: nothing else changes, and nothing afterwards', (name, kind) => {
    const struck = ride(n, only(name, kind), 100, 300);
    const key = KEY[name];
    const elsewhere = struck.map((sample, k) =>
      k >= 100 && k < 300 ? { ...sample, [key]: clean[k]?.[key] } : sample,
    );
    expect(elsewhere).toStrictEqual(clean);
    const changed = struck.filter((sample, k) => sample[key] !== clean[k]?.[key]).length;
    expect(changed).toBeGreaterThan(20);
  });

  it('stuck holds the last good value, or the first where there is none before', () => {
    for (const sample of ride(n, only('airTemp', 'stuck'), 100, 300).slice(100, 300)) {
      expect(sample.airTempCE2).toBe(clean[99]?.airTempCE2);
    }
    const fromTheStart = ride(n, only('pressure', 'stuck'), 0, n);
    for (const sample of fromTheStart) expect(sample.pressurePa).toBe(clean[0]?.pressurePa);
  });

  it('stuck holds the value before it while another fault was there already', () => {
    const model = sensors({ pressure: NOISY });
    let stuck = false;
    const faults: SensorFaults = { ...only('airTemp', 'silent'), stuck: () => stuck };
    const read = (k: number): number | null =>
      model.sample(START_MS + k * MINUTE_MS * 60, PARKED, faults).pressurePa;
    const before = [0, 1, 2].map(read);
    stuck = true;
    expect([3, 4].map(read)).toEqual([before[2], before[2]]);
    expect(before[2]).not.toBe(before[0]);
  });

  it('silent is null, even when stuck', () => {
    const both: SensorFaults = { ...only('humidity', 'silent'), stuck: () => true };
    for (const sample of ride(n, both, 100, 300).slice(100, 300)) {
      expect(sample.humidityPctE1).toBeNull();
      expect(sample.pressurePa).toBe(clean[99]?.pressurePa);
    }
  });

  it('spikes strike their share of readings, by the stated amount', () => {
    const total = 8000;
    const base = ride(total, NO_SENSOR_FAULTS, 0, 0);
    const jumps = ride(total, only('airTemp', 'spike'), 0, total).map(
      (sample, k) => (sample.airTempCE2 ?? Number.NaN) - (base[k]?.airTempCE2 ?? Number.NaN),
    );
    expect(new Set(jumps.map((jump) => Math.round(jump / 10) * 10 + 0))).toEqual(new Set([0, 3000]));
    const share = jumps.filter((jump) => jump > 0).length / total;
    expect(Math.abs(share - 0.25)).toBeLessThan(3.9 * Math.sqrt((0.25 * 0.75) / total));
  });
});
