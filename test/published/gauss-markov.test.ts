// The Gauss-Markov process against its closed-form moments (Gelb, Applied Optimal Estimation, 1974, derived).
// A correlated series of n values knows less than n independent ones: tolerances are widened by
// (1+phi)/(1-phi) for the mean and (1+phi^2)/(1-phi^2) for the variance.
import { describe, expect, it } from 'vitest';
import { randomStream } from '../../sim/random.ts';
import { GaussMarkov } from '../../sim/tracker/gauss-markov.ts';
import { OnGrid } from '../../sim/tracker/on-grid.ts';
import { autocorrelation, kolmogorovSmirnov, ksLimit001, mean, variance } from '../support/statistics.ts';

/** Two-sided normal limit at 1 in 10000. */
const Z = 3.890592;

/** Normal distribution function, Abramowitz and Stegun 26.2.17, error below 7.5e-8. */
function normalCdf(x: number): number {
  const t = 1 / (1 + 0.2316419 * Math.abs(x));
  const tail =
    (Math.exp((-x * x) / 2) / Math.sqrt(2 * Math.PI)) *
    t *
    (0.31938153 + t * (-0.356563782 + t * (1.781477937 + t * (-1.821255978 + t * 1.330274429))));
  return x < 0 ? tail : 1 - tail;
}

describe('GaussMarkov', () => {
  it.each([
    [1, 60, 120.0028, 60.0056],
    [60, 300, 10.0333, 5.0665],
  ])('step %i s, correlation time %i s', (dtS, correlationS, meanInflation, varianceInflation) => {
    const phi = Math.exp(-dtS / correlationS);
    expect((1 + phi) / (1 - phi)).toBeCloseTo(meanInflation, 4);
    expect((1 + phi * phi) / (1 - phi * phi)).toBeCloseTo(varianceInflation, 4);

    const sigma = 3;
    const process = new GaussMarkov(sigma, correlationS, randomStream('moments', dtS));
    const n = 200_000;
    const series = Array.from({ length: n }, () => process.step(dtS));
    expect(Math.abs(mean(series))).toBeLessThan(Z * sigma * Math.sqrt(meanInflation / n));
    const spread = Math.sqrt((2 * varianceInflation) / n);
    expect(Math.abs(variance(series) / sigma ** 2 - 1)).toBeLessThan(Z * spread);
    for (const lag of [1, 2, 5, 20, 60]) {
      const found = autocorrelation(series, lag, 0, sigma ** 2);
      // Bartlett: the deviation of a lag's product mean is at most that of the variance.
      expect(Math.abs(found - Math.exp((-lag * dtS) / correlationS))).toBeLessThan(Z * spread);
    }
  });

  it('starts from its stationary distribution', () => {
    const first = Array.from({ length: 4000 }, (_, k) =>
      new GaussMarkov(2, 100, randomStream('start', k)).at(5_000_000),
    );
    expect(kolmogorovSmirnov(first, (x) => normalCdf(x / 2))).toBeLessThan(ksLimit001(4000));
  });

  it('is the same process in uneven steps', () => {
    const dts = [1, 7, 30, 200];
    const process = new GaussMarkov(1, 60, randomStream('uneven'));
    const byStep = dts.map((): number[] => []);
    let before = process.step(0);
    for (let i = 0; i < 80_000; i++) {
      const k = i % dts.length;
      const now = process.step(dts[k] ?? 0);
      byStep[k]?.push(before * now);
      before = now;
    }
    dts.forEach((dtS, k) => {
      const products = byStep[k] ?? [];
      // Product of two unit normals: variance 1 + rho^2 <= 2; neighbours of a group are 238 s apart (phi 0.02).
      const tolerance = Z * Math.sqrt(2.1 / products.length);
      expect(Math.abs(mean(products) - Math.exp(-dtS / 60))).toBeLessThan(tolerance);
    });
  });

  it('no time passed: no change; no memory: white', () => {
    const process = new GaussMarkov(1, 60, randomStream('still'));
    const value = process.at(1000);
    expect(process.at(1000)).toBe(value);
    const white = new GaussMarkov(1, 0, randomStream('white'));
    const series = Array.from({ length: 20_000 }, () => white.step(1));
    expect(Math.abs(autocorrelation(series, 1, 0, 1))).toBeLessThan(Z / Math.sqrt(20_000));
  });
});

describe('OnGrid', () => {
  const onGrid = (): OnGrid => new OnGrid(new GaussMarkov(1, 600, randomStream('grid')), 10_000);

  it('is a function of time alone while readings are closer than the grid', () => {
    const fine = onGrid();
    const coarse = onGrid();
    for (let atMs = 0; atMs <= 400_000; atMs += 7000) {
      for (let before = Math.max(0, atMs - 6000); before < atMs; before += 1000) fine.at(before);
      expect(coarse.at(atMs)).toBeCloseTo(fine.at(atMs), 10);
    }
  });

  it.each([1_000, 10_000, 25_000, 3_600_000])(
    'keeps variance and memory at one reading each %i ms',
    (dtMs) => {
      const process = onGrid();
      const series = Array.from({ length: 50_000 }, (_, k) => process.at(1_900_000_000_000 + k * dtMs));
      const phi = Math.exp(-dtMs / 600_000);
      const spread = Math.sqrt((2 * (1 + phi * phi)) / (1 - phi * phi) / series.length);
      // 1 % for the straight line between the points of the grid.
      expect(Math.abs(variance(series) - 1)).toBeLessThan(Z * spread + 0.01);
      expect(Math.abs(autocorrelation(series, 1, 0, 1) - phi)).toBeLessThan(Z * spread + 0.02);
    },
  );
});
