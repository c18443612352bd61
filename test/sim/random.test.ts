import seedrandom from 'seedrandom';
import { describe, expect, it } from 'vitest';
import { randomStream } from '../../sim/random.ts';

describe('named random streams', () => {
  it('are the alea generator of seedrandom under a name of their own', () => {
    const stream = randomStream('seed', 'tracker', 7);
    const reference = seedrandom.alea('["seed","tracker",7]');
    for (let k = 0; k < 100; k++) expect(stream.next()).toBe(reference());
  });

  it('differ by name, by seed, and by where one part of a name ends', () => {
    const firsts = [
      randomStream('s', 'a', 'bc'),
      randomStream('s', 'ab', 'c'),
      randomStream('t', 'a', 'bc'),
      randomStream('s', 'a'),
      randomStream('s', 1),
      randomStream('s', '1'),
    ].map((stream) => stream.next());
    expect(new Set(firsts).size).toBe(firsts.length);
  });

  it('draws normal numbers: moments within four standard errors', () => {
    const stream = randomStream('moments');
    const n = 200_000;
    let sum = 0;
    let squares = 0;
    let fourth = 0;
    for (let k = 0; k < n; k++) {
      const x = stream.gauss();
      sum += x;
      squares += x * x;
      fourth += x ** 4;
    }
    // Standard normal: mean 0, variance 1, fourth moment 3; var of x² is 2, of x⁴ is 96 (textbook moments).
    expect(Math.abs(sum / n)).toBeLessThan(4 / Math.sqrt(n));
    expect(Math.abs(squares / n - 1)).toBeLessThan(4 * Math.sqrt(2 / n));
    expect(Math.abs(fourth / n - 3)).toBeLessThan(4 * Math.sqrt(96 / n));
  });

  it('draws normal numbers: the whole curve, tails too, by Kolmogorov and Smirnov at 0.001', () => {
    const stream = randomStream('curve');
    const n = 100_000;
    const drawn = Float64Array.from({ length: n }, () => stream.gauss()).sort();
    let worst = 0;
    drawn.forEach((x, k) => {
      const below = normalBelow(x);
      worst = Math.max(worst, Math.abs(below - k / n), Math.abs(below - (k + 1) / n));
    });
    expect(worst).toBeLessThan(1.94947 / Math.sqrt(n)); // asymptotic critical value, standard table
    // 2 (1 - Phi(3.5)) = 4.653e-4: beyond the last layer of the ziggurat. Five standard errors.
    const tail = drawn.filter((x) => Math.abs(x) > 3.5).length;
    expect(Math.abs(tail - 46.53)).toBeLessThan(5 * Math.sqrt(46.53));
  });

  it('fills its bins evenly: chi-square at 0.001', () => {
    const stream = randomStream('bins');
    const bins = new Array<number>(10).fill(0);
    const n = 100_000;
    for (let k = 0; k < n; k++) {
      const bin = stream.below(10);
      bins[bin] = (bins[bin] ?? 0) + 1;
    }
    const chiSquare = bins.reduce((sum, seen) => sum + (seen - n / 10) ** 2 / (n / 10), 0);
    expect(chiSquare).toBeLessThan(27.877); // upper 0.001 point for 9 degrees of freedom, standard table
  });

  it('takes chances as ratios of whole numbers', () => {
    const stream = randomStream('chances');
    let hits = 0;
    for (let k = 0; k < 60_000; k++) if (stream.chance(1, 6)) hits += 1;
    expect(Math.abs(hits - 10_000)).toBeLessThan(4 * Math.sqrt((60_000 * 5) / 36));
    expect(stream.chance(0, 5)).toBe(false);
    expect(stream.chance(5, 5)).toBe(true);
  });
});

/** Phi(x) from erf by the series of Abramowitz and Stegun 7.1.26; error below 1.5e-7. */
function normalBelow(x: number): number {
  const z = Math.abs(x) / Math.SQRT2;
  const t = 1 / (1 + 0.3275911 * z);
  const poly =
    ((((1.061405429 * t - 1.453152027) * t + 1.421413741) * t - 0.284496736) * t + 0.254829592) * t;
  const erf = 1 - poly * Math.exp(-z * z);
  return x < 0 ? (1 - erf) / 2 : (1 + erf) / 2;
}
