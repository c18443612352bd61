// The test tool against the reference sets of NIST SP 1065, section 12.4; then the model against closed forms.
import { describe, expect, it } from 'vitest';
import { randomStream } from '../../sim/random.ts';
import { GaussMarkov } from '../../sim/tracker/gauss-markov.ts';
import {
  allanDeviation,
  mean,
  modifiedAllanDeviation,
  overlappingAllanDeviation,
  quantile,
  variance,
} from '../support/statistics.ts';

const NINE = [892, 809, 823, 798, 671, 644, 883, 903, 677];

function nistThousand(): number[] {
  const set: number[] = [];
  for (let n = 1_234_567_890; set.length < 1000; n = (16_807 * n) % 2_147_483_647) {
    set.push(n / 2_147_483_647);
  }
  return set;
}

describe('NIST SP 1065 reference sets', () => {
  it('nine points', () => {
    expect(allanDeviation(NINE, 1)).toBeCloseTo(91.22945, 5);
    expect(allanDeviation(NINE, 2)).toBeCloseTo(115.8082, 4);
    expect(overlappingAllanDeviation(NINE, 2)).toBeCloseTo(85.95287, 5);
    expect(modifiedAllanDeviation(NINE, 2)).toBeCloseTo(74.78849, 5);
  });

  it('the thousand points are the published ones', () => {
    const set = nistThousand();
    expect(mean(set)).toBeCloseTo(4.897745e-1, 7);
    expect(Math.sqrt(variance(set))).toBeCloseTo(2.884664e-1, 7);
    expect(Math.max(...set)).toBeCloseTo(9.957453e-1, 7);
    expect(Math.min(...set)).toBeCloseTo(1.37176e-3, 8);
    // The median of an even count is the mean of the two in the middle.
    expect((quantile(set, 0.499) + quantile(set, 0.5)) / 2).toBeCloseTo(4.798849e-1, 7);
  });

  it.each([
    [1, 2.922319e-1, 2.922319e-1, 2.922319e-1],
    [10, 9.965736e-2, 9.159953e-2, 6.172376e-2],
    [100, 3.897804e-2, 3.241343e-2, 2.170921e-2],
  ])('thousand points, m = %i', (m, plain, overlapping, modified) => {
    const set = nistThousand();
    expect(allanDeviation(set, m)).toBeCloseTo(plain, 7);
    expect(overlappingAllanDeviation(set, m)).toBeCloseTo(overlapping, 7);
    expect(modifiedAllanDeviation(set, m)).toBeCloseTo(modified, 7);
  });
});

describe('Allan deviation of the Gauss-Markov process', () => {
  // Closed form (IEEE Std 952, derived): AVAR = (sigma T/tau)^2 (2x - 3 + 4 e^-x - e^-2x), x = tau/T.
  const closedForm = (x: number): number =>
    Math.sqrt((2 * x - 3 + 4 * Math.exp(-x) - Math.exp(-2 * x)) / (x * x));

  it('the closed form itself: peak 0.61736 sigma at x = 1.8926, and 0.57981 sigma at x = 1', () => {
    expect(closedForm(1.8926)).toBeCloseTo(0.61736, 5);
    expect(closedForm(1)).toBeCloseTo(0.57981, 5);
    expect(closedForm(1.8)).toBeLessThan(closedForm(1.8926));
    expect(closedForm(2)).toBeLessThan(closedForm(1.8926));
  });

  it('the model follows it from a tenth to ten correlation times', () => {
    const correlationSteps = 50;
    const process = new GaussMarkov(2, correlationSteps, randomStream('allan', 'gauss-markov'));
    const rate = Array.from({ length: 200_000 }, () => process.step(1));
    for (const x of [0.1, 0.3, 1, 1.8926, 3, 10]) {
      const m = Math.round(x * correlationSteps);
      // Independent differences are at least n/(2m) apart: relative deviation about sqrt(m/n), here x 4,
      // and 0.2 % for summing samples instead of integrating.
      const tolerance = 4 * Math.sqrt(m / rate.length) + 0.002;
      const ratio = overlappingAllanDeviation(rate, m) / (2 * closedForm(m / correlationSteps));
      expect(Math.abs(ratio - 1), `x = ${x}, ratio ${ratio}`).toBeLessThan(tolerance);
    }
  });

  it('white noise falls with the square root of the averaging time', () => {
    const white = randomStream('allan', 'white');
    const rate = Array.from({ length: 100_000 }, () => white.gauss());
    for (const m of [1, 4, 16, 64]) {
      const ratio = overlappingAllanDeviation(rate, m) * Math.sqrt(m);
      expect(Math.abs(ratio - 1)).toBeLessThan(4 * Math.sqrt(m / rate.length));
    }
  });
});
