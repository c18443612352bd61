import * as fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { DAY_MS, HOUR_MS, MINUTE_MS } from '../../sim/clock.ts';
import { randomStream } from '../../sim/random.ts';
import { FIELDS } from '../../sim/reading.ts';
import { relativeHumidityPct, saturationVapourHpa } from '../../sim/tracker/atmosphere.ts';
import { FirstOrderLag } from '../../sim/tracker/first-order-lag.ts';
import { dailyCourseC } from '../../sim/tracker/local-air.ts';
import type { MotionState } from '../../sim/tracker/motion-state.ts';
import { NO_SENSOR_FAULTS, SensorsModel, type SensorsSample } from '../../sim/tracker/sensors.ts';
import { chiSquare, kolmogorovSmirnov, ksLimit001, mean } from '../support/statistics.ts';
import { MILD, PARKED, PERFECT_PLAN, RIDING, sensors, START_MS } from '../support/sensors.ts';

function samples(
  n: number,
  everyMs: number,
  truth: MotionState = PARKED,
  plan: Partial<typeof PERFECT_PLAN> = {},
  weather = MILD,
): SensorsSample[] {
  const model = sensors(plan, 'samples', weather);
  return Array.from({ length: n }, (_, k) =>
    model.sample(START_MS + (k + 1) * everyMs, truth, NO_SENSOR_FAULTS),
  );
}

const tempsC = (of: readonly SensorsSample[]): number[] => of.map((s) => (s.airTempCE2 ?? Number.NaN) / 100);

describe('air temperature', () => {
  it.each([
    [0, 15],
    [90, 9],
    [-90, 21],
    [180, 3],
  ])('at longitude %d the day is warmest at %d:00 UTC (15:00 local mean solar time)', (lonDeg, hour) => {
    const hours = Array.from({ length: 24 }, (_, h) => dailyCourseC(START_MS + h * HOUR_MS, lonDeg, 4));
    expect(hours.indexOf(Math.max(...hours))).toBe(hour);
    expect(hours[hour]).toBeCloseTo(4, 9);
    expect(hours[(hour + 12) % 24]).toBeCloseTo(-4, 9);
  });

  it('keeps mean and daily swing over a year', () => {
    const days = 365;
    const temps = tempsC(samples(days * 24, HOUR_MS));
    // Weather of 1.5 degrees with six hours of memory: 365 days know about 730 independent values.
    expect(Math.abs(mean(temps) - MILD.meanTempC)).toBeLessThan((4 * 1.5) / Math.sqrt(730));
    const at = (hour: number): number => mean(temps.filter((_, k) => (k + 1) % 24 === hour));
    expect(Math.abs((at(15) - at(3)) / 2 - MILD.dailySwingC)).toBeLessThan((4 * 1.5) / Math.sqrt(2 * days));
  });

  it('falls by 6.5 degrees in a kilometre of height (standard atmosphere)', () => {
    const low = tempsC(samples(50, HOUR_MS));
    const high = tempsC(samples(50, HOUR_MS, { ...PARKED, altM: 1000 }));
    low.forEach((tempC, k) => expect(tempC - (high[k] ?? Number.NaN)).toBeCloseTo(6.5, 1));
  });
});

describe('enclosure lag', () => {
  it.each([10, 60, 300])(
    'follows a sine wave with the gain and phase of theory, asked each %d s',
    (everyS) => {
      // First-order system: gain 1/sqrt(1 + (w T)^2), phase atan(w T).
      const timeConstantS = 1800;
      const w = (2 * Math.PI) / 7200;
      const lag = new FirstOrderLag(timeConstantS);
      const gain = 1 / Math.sqrt(1 + (w * timeConstantS) ** 2);
      const phase = Math.atan(w * timeConstantS);
      let worst = 0;
      for (let s = 0; s < 100_000; s += everyS) {
        const output = lag.at(s * 1000, Math.sin(w * s));
        const error = Math.abs(output - gain * Math.sin(w * s - phase));
        if (s > 15 * timeConstantS) worst = Math.max(worst, error);
      }
      // The straight line between two inputs errs by (w dt)^2 / 8 at most.
      expect(worst).toBeLessThan((w * everyS) ** 2 / 8 + 1e-4);
    },
  );

  it('a ramp: the same in one stride as in many; a step: 1 - 1/e after one time constant', () => {
    const fine = new FirstOrderLag(600);
    const coarse = new FirstOrderLag(600);
    coarse.at(0, 0);
    let last = 0;
    for (let s = 0; s <= 3600; s++) last = fine.at(s * 1000, s / 100);
    expect(coarse.at(3_600_000, 36)).toBeCloseTo(last, 9);
    const step = new FirstOrderLag(600);
    step.at(0, 0);
    step.at(1, 1);
    expect(step.at(600_001, 1)).toBeCloseTo(1 - 1 / Math.E, 4);
    const none = new FirstOrderLag(0);
    expect([none.at(0, 3), none.at(0, 3), none.at(5, 7)]).toEqual([3, 3, 7]);
  });
});

describe('humidity', () => {
  it('is highest when it is coldest, and around the stated mean', () => {
    const year = samples(365 * 24, HOUR_MS);
    const humidity = (hour: number): number =>
      mean(year.filter((_, k) => (k + 1) % 24 === hour).map((s) => (s.humidityPctE1 ?? Number.NaN) / 10));
    expect(humidity(3)).toBeGreaterThan(humidity(15) + 15);
    // At the hours of mean temperature; saturation and weather bend the mean by a few percent.
    expect(Math.abs((humidity(9) + humidity(21)) / 2 - MILD.humidityPct)).toBeLessThan(4);
  });

  it('inside the enclosure: the vapour of the air outside, at the temperature inside', () => {
    const damp = { ...MILD, humidityPct: 100 };
    const lagging = samples(3000, 10 * MINUTE_MS, PARKED, { enclosureLagS: 7200 }, damp);
    const outsideC = tempsC(samples(3000, 10 * MINUTE_MS, PARKED, {}, damp));
    const insideC = tempsC(lagging);
    let saturated = 0;
    lagging.forEach((s, k) => {
      // The outside air holds at most what saturates it.
      const most = Math.min(
        relativeHumidityPct(insideC[k] ?? NaN, saturationVapourHpa(outsideC[k] ?? NaN)),
        100,
      );
      const found = (s.humidityPctE1 ?? NaN) / 10;
      expect(found).toBeLessThanOrEqual(most + 0.15);
      if (most < 95 && found > most - 0.15) saturated += 1;
    });
    // Cooling nights: the outside is saturated, the warmer inside isn't.
    expect(saturated).toBeGreaterThan(100);
    const behind = insideC.map((tempC, k) => Math.abs(tempC - (outsideC[k] ?? NaN)));
    expect(Math.max(...behind)).toBeGreaterThan(1);
  });

  it('perfectly dry air reads 0, saturated air never more than 100', () => {
    for (const s of samples(100, HOUR_MS, PARKED, {}, { ...MILD, humidityPct: 0 })) {
      expect(s.humidityPctE1).toBe(0);
    }
    const wet = samples(500, HOUR_MS, PARKED, { enclosureLagS: 3600 }, { ...MILD, humidityPct: 100 });
    expect(Math.max(...wet.map((s) => s.humidityPctE1 ?? Number.NaN))).toBe(1000);
  });
});

describe('pressure', () => {
  it('keeps the stated mean, and falls with height as the standard atmosphere does', () => {
    const low = samples(2000, DAY_MS).map((s) => s.pressurePa ?? Number.NaN);
    // Weather of 500 Pa with two days of memory: 2000 days know about 490 independent values.
    expect(Math.abs(mean(low) - MILD.seaLevelPressurePa)).toBeLessThan((4 * 500) / Math.sqrt(490));
    const high = samples(2000, DAY_MS, { ...PARKED, altM: 2000 }).map((s) => s.pressurePa ?? Number.NaN);
    // 79501.42 Pa at 2000 m geometric (ICAO Doc 7488).
    const ratio = 79_501.42 / 101_325;
    low.forEach((pa, k) => expect(Math.abs((high[k] ?? 0) - pa * ratio)).toBeLessThan(1));
  });
});

describe('acceleration', () => {
  const peaks = (of: readonly SensorsSample[]): number[] =>
    of.map((s) => (s.accelMps2E2 ?? Number.NaN) / 100);

  it('is 0 at rest, and grows with speed and with the length of the interval', () => {
    expect(new Set(peaks(samples(50, MINUTE_MS, PARKED, { shocksPerHour: 100 })))).toEqual(new Set([0]));
    const slow = mean(peaks(samples(2000, MINUTE_MS, RIDING)));
    expect(mean(peaks(samples(2000, MINUTE_MS, { ...RIDING, speedMps: 15 })))).toBeGreaterThan(slow * 1.5);
    expect(mean(peaks(samples(2000, HOUR_MS, RIDING)))).toBeGreaterThan(slow * 1.1);
    expect(slow).toBeGreaterThan(0);
    // Peak of 600 normal values of 0.4 m/s2: sqrt(2 ln 600) + 0.5772 / sqrt(2 ln 600) = 3.738 (Davenport 1964).
    expect(Math.abs(slow - 0.4 * 3.738)).toBeLessThan(0.02);
  });

  it('shocks are Poisson: readings with none, minutes in a row', () => {
    const n = 20_000;
    const shocked = peaks(samples(n, MINUTE_MS, RIDING, { shocksPerHour: 12 })).map((peak) => peak >= 10);
    const none = Math.exp(-12 / 60);
    const count = shocked.filter(Boolean).length;
    // Chi-square, one degree of freedom: 10.828 at 0.001.
    expect(chiSquare([n - count, count], [n * none, n * (1 - none)])).toBeLessThan(10.828);
    const inPair = Array.from(
      { length: n / 2 },
      (_, k) => Number(shocked[2 * k]) + Number(shocked[2 * k + 1]),
    );
    const pairs = [0, 1, 2].map((shocks) => inPair.filter((found) => found === shocks).length);
    const p = 1 - none;
    const half = n / 2;
    // Two degrees of freedom: 13.816 at 0.001.
    expect(chiSquare(pairs, [half * none * none, 2 * half * p * none, half * p * p])).toBeLessThan(13.816);
  });

  it('the greatest shock of an hour is the same, read by the minute or by the hour', () => {
    const hours = 3000;
    const plan = { shocksPerHour: 3 };
    const byMinute = peaks(samples(hours * 60, MINUTE_MS, RIDING, plan));
    const greatest = Array.from({ length: hours }, (_, h) =>
      Math.max(...byMinute.slice(h * 60, h * 60 + 60)),
    ).filter((peak) => peak >= 10);
    const byHour = peaks(samples(hours, HOUR_MS, RIDING, plan)).filter((peak) => peak >= 10);
    // Greatest of a Poisson count (mean 3) of exponential excesses, mean 12, over 10, given at least one.
    const cdf = (x: number): number =>
      (Math.exp(-3 * Math.exp((10 - x) / 12)) - Math.exp(-3)) / (1 - Math.exp(-3));
    for (const set of [greatest, byHour]) {
      expect(kolmogorovSmirnov(set, cdf)).toBeLessThan(ksLimit001(set.length));
      expect(Math.abs(set.length / hours - (1 - Math.exp(-3)))).toBeLessThan(0.016);
    }
  });
});

describe('laws', () => {
  const sensor = fc.record({
    noise: fc.double({ min: 0, max: 500, noNaN: true }),
    bias: fc.double({ min: -500, max: 500, noNaN: true }),
    driftPerDay: fc.double({ min: -100, max: 100, noNaN: true }),
    walkPerSqrtDay: fc.double({ min: 0, max: 100, noNaN: true }),
  });
  const plans = fc.record({
    airTemp: sensor,
    humidity: sensor,
    pressure: sensor,
    accel: sensor,
    enclosureLagS: fc.integer({ min: 0, max: 20_000 }),
    shocksPerHour: fc.integer({ min: 0, max: 1000 }),
  });
  const weathers = fc.record({
    meanTempC: fc.integer({ min: -40, max: 45 }),
    dailySwingC: fc.integer({ min: 0, max: 20 }),
    humidityPct: fc.integer({ min: 0, max: 100 }),
    seaLevelPressurePa: fc.integer({ min: 90_000, max: 108_000 }),
  });
  const steps = fc.array(
    fc.record({
      dtMs: fc.integer({ min: 0, max: DAY_MS }),
      altM: fc.double({ min: -400, max: 9000, noNaN: true }),
      speedMps: fc.double({ min: 0, max: 60, noNaN: true }),
      moving: fc.boolean(),
    }),
    { minLength: 1, maxLength: 30 },
  );

  it('same seed, same samples; whole numbers within the bounds of FIELDS', () => {
    fc.assert(
      fc.property(plans, weathers, fc.string(), steps, (plan, weather, seed, script) => {
        const play = (): SensorsSample[] => {
          const model = sensors(plan, seed, weather);
          let atMs = START_MS;
          return script.map(({ dtMs, ...state }) => {
            atMs += dtMs;
            return model.sample(atMs, { ...PARKED, ...state }, NO_SENSOR_FAULTS);
          });
        };
        const found = play();
        expect(play()).toStrictEqual(found);
        for (const s of found) {
          for (const field of FIELDS) {
            if (field.kind !== 'number' || !(field.key in s)) continue;
            const value = s[field.key as keyof SensorsSample];
            expect(Number.isInteger(value) && !Object.is(value, -0)).toBe(true);
            expect(value).toBeGreaterThanOrEqual(field.min * 10 ** field.decimals);
            expect(value).toBeLessThanOrEqual(field.max * 10 ** field.decimals);
          }
        }
      }),
      { seed: 5101, numRuns: 200 },
    );
  });

  it('each stream is asked for once, by a name of its own', () => {
    const names: string[] = [];
    const model = new SensorsModel(PERFECT_PLAN, MILD, START_MS, (name) => {
      names.push(name);
      return randomStream('names', name);
    });
    model.sample(START_MS, PARKED, NO_SENSOR_FAULTS);
    expect(new Set(names).size).toBe(names.length);
    expect(names).toEqual(expect.arrayContaining(['airTemp', 'humidity', 'pressure', 'accel']));
  });
});
