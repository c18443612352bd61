// The GNSS error against the circular normal distribution (Rayleigh radii):
// CEP 1.177410, DRMS 1.414214, R95 2.447747 sigma per axis. Mean-radius sphere: 111195.0802 m a degree.
import { describe, expect, it } from 'vitest';
import { randomStream } from '../../sim/random.ts';
import { GnssModel } from '../../sim/tracker/gnss.ts';
import { autocorrelation, kolmogorovSmirnov, ksLimit001, quantile } from '../support/statistics.ts';

const LAT_DEG = 60;
const LON_DEG = -14.2;
const TRUTH = { lonDeg: LON_DEG, latDeg: LAT_DEG, altM: 100, speedMps: 0, courseDeg: 0, moving: false };
const M_PER_DEG = 111_195.0802;
const DRMS_M = 50;
const CORRELATION_S = 60;

interface Errors {
  /** Radius over the stated DRMS. */
  readonly radius: number[];
  readonly northM: number[];
  readonly eastM: number[];
  readonly upM: number[];
}

/** Errors of n fixes `everyMs` apart. */
function errorsOf(n: number, everyMs: number): Errors {
  const gnss = new GnssModel(
    { drmsM: DRMS_M, correlationS: CORRELATION_S, withoutFix: 'nothing' },
    randomStream('position-error', everyMs),
  );
  gnss.powerOn(0);
  gnss.sample(600_000, TRUTH, 'open');
  const errors: Errors = { radius: [], northM: [], eastM: [], upM: [] };
  for (let k = 1; k <= n; k++) {
    const s = gnss.sample(600_000 + k * everyMs, TRUTH, 'open');
    const northM = ((s.latDegE7 ?? Number.NaN) / 1e7 - LAT_DEG) * M_PER_DEG;
    const eastM =
      ((s.lonDegE7 ?? Number.NaN) / 1e7 - LON_DEG) * M_PER_DEG * Math.cos((LAT_DEG * Math.PI) / 180);
    errors.radius.push(Math.hypot(northM, eastM) / ((s.accuracyME1 ?? Number.NaN) / 10));
    errors.northM.push(northM);
    errors.eastM.push(eastM);
    errors.upM.push((s.altME1 ?? Number.NaN) / 10 - TRUTH.altM);
  }
  return errors;
}

const rms = (x: readonly number[]): number =>
  Math.sqrt(x.reduce((sum, value) => sum + value * value, 0) / x.length);

describe('horizontal error', () => {
  // 20 minutes apart: 20 correlation times, so the fixes are independent.
  const n = 20_000;
  const independent = errorsOf(n, 1_200_000);

  it('is Rayleigh: Kolmogorov-Smirnov at 0.001', () => {
    // Radius in DRMS: P(r <= x) = 1 - exp(-x^2).
    const distance = kolmogorovSmirnov(independent.radius, (x) => 1 - Math.exp(-x * x));
    expect(distance).toBeLessThan(ksLimit001(n));
  });

  it('has the published ratios of CEP, DRMS and R95', () => {
    const cep = quantile(independent.radius, 0.5);
    const r95 = quantile(independent.radius, 0.95);
    const drms = rms(independent.radius);
    // Relative deviations at n = 20000: CEP 0.5 %, DRMS 0.35 %, R95 0.5 %; limits are 4 of them.
    expect(Math.abs(cep / (1.17741 / Math.SQRT2) - 1)).toBeLessThan(0.021);
    expect(Math.abs(drms - 1)).toBeLessThan(0.0142);
    expect(Math.abs(r95 / (2.447747 / Math.SQRT2) - 1)).toBeLessThan(0.021);
    expect(Math.abs(r95 / cep / 2.0789 - 1)).toBeLessThan(0.03);
    const within = (limit: number): number => independent.radius.filter((r) => r <= limit).length / n;
    expect(Math.abs(within(1) - 0.632121)).toBeLessThan(3.9 * Math.sqrt((0.632 * 0.368) / n));
    expect(Math.abs(within(2) - 0.981684)).toBeLessThan(3.9 * Math.sqrt((0.9817 * 0.0183) / n));
  });

  it('has the DRMS of the plan in open sky, the same on both axes, and more in height', () => {
    const north = rms(independent.northM);
    const east = rms(independent.eastM);
    // 3 %: HDOP wanders around 1.
    expect(Math.abs(Math.hypot(north, east) / DRMS_M - 1)).toBeLessThan(0.03);
    expect(Math.abs(north / east - 1)).toBeLessThan(0.04);
    // 1.7 of the DRMS: common practice.
    expect(Math.abs(rms(independent.upM) / DRMS_M / 1.7 - 1)).toBeLessThan(0.05);
  });

  it('remembers: autocorrelation exp(-lag / T) on each axis, none between the axes', () => {
    const everyS = 30;
    const { northM, eastM } = errorsOf(40_000, everyS * 1000);
    const phi = Math.exp(-everyS / CORRELATION_S);
    const tolerance = 3.9 * Math.sqrt((2 * (1 + phi * phi)) / (1 - phi * phi) / northM.length);
    for (const lag of [1, 2, 4, 8]) {
      for (const axis of [northM, eastM]) {
        expect(Math.abs(autocorrelation(axis, lag) - phi ** lag)).toBeLessThan(tolerance);
      }
    }
    const cross = northM.reduce((sum, value, i) => sum + value * (eastM[i] ?? Number.NaN), 0);
    expect(Math.abs(cross / northM.length / (rms(northM) * rms(eastM)))).toBeLessThan(tolerance);
  });
});
