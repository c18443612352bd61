// Burst outages against the closed forms of the Gilbert–Elliott chain (no loss in good, all lost in bad):
// loss p/(p+r), mean burst 1/r, mean gap 1/p, autocorrelation (1-p-r)^k,
// sd of the loss share over n steps sqrt(P(1-P)/n (2-p-r)/(p+r)). Independent-sample tolerances would be far too narrow.
import { describe, expect, it } from 'vitest';
import { randomStream } from '../../sim/random.ts';
import type { OutagePlan } from '../../sim/scenario/scenario.ts';
import { GilbertElliott } from '../../sim/tracker/gilbert-elliott.ts';

const N = 100_000;
const STEP_MS = 1000;

function states(plan: OutagePlan, n: number, name: string | number): boolean[] {
  const chain = new GilbertElliott(plan, 0, randomStream('gilbert-elliott', name));
  return Array.from({ length: n }, (_, k) => chain.isBad(k * plan.stepMs));
}

function bursts(path: readonly boolean[], of: boolean): number[] {
  const lengths: number[] = [];
  let length = 0;
  for (const bad of path) {
    if (bad === of) length += 1;
    else if (length > 0) {
      lengths.push(length);
      length = 0;
    }
  }
  return lengths;
}

const mean = (values: readonly number[]) => values.reduce((a, b) => a + b, 0) / values.length;
const share = (path: readonly boolean[]) => path.filter(Boolean).length / path.length;

describe.each([
  // p, r, loss, sd of the loss over 100000 steps
  [{ num: 1, den: 100 }, { num: 1, den: 5 }, 0.047619, 0.0019661],
  [{ num: 1, den: 20 }, { num: 1, den: 4 }, 0.1666667, 0.0028054],
  [{ num: 1, den: 500 }, { num: 1, den: 10 }, 0.0196078, 0.0018913],
])('p = %o, r = %o', (toBad, toGood, loss, sd) => {
  const plan = { stepMs: STEP_MS, toBad, toGood };
  const p = toBad.num / toBad.den;
  const r = toGood.num / toGood.den;
  const path = states(plan, N, 'long');

  it('loses the stationary share', () => {
    expect(Math.abs(share(path) - loss)).toBeLessThan(3.89 * sd);
  });

  it('has geometric bursts of mean 1/r and gaps of mean 1/p', () => {
    for (const [of, change] of [
      [true, r],
      [false, p],
    ] as const) {
      const lengths = bursts(path, of);
      // Geometric distribution: mean 1/c, standard deviation sqrt(1-c)/c.
      const tolerance = (3.89 * Math.sqrt(1 - change)) / change / Math.sqrt(lengths.length);
      expect(Math.abs(mean(lengths) - 1 / change)).toBeLessThan(tolerance);
    }
  });

  it('varies between runs by the inflated variance, not the independent one', () => {
    const n = 5000;
    const runs = 1000;
    const losses = Array.from({ length: runs }, (_, k) => share(states(plan, n, k)));
    const variance = mean(losses.map((x) => (x - loss) ** 2));
    const expected = ((loss * (1 - loss)) / n) * ((2 - p - r) / (p + r));
    // Chi-square with 1000 degrees of freedom is close to normal: variance 2/1000 of its mean.
    expect(Math.abs(variance / expected - 1)).toBeLessThan(3.89 * Math.sqrt(2 / runs));
  });

  it('starts from the stationary distribution', () => {
    const first = Array.from({ length: 4000 }, (_, k) => states(plan, 1, `first ${k}`)[0] === true);
    expect(Math.abs(share(first) - loss)).toBeLessThan(3.89 * Math.sqrt((loss * (1 - loss)) / 4000));
  });
});

it('forgets its state at the rate 1 - p - r', () => {
  const path = states({ stepMs: STEP_MS, toBad: { num: 1, den: 20 }, toGood: { num: 1, den: 4 } }, N, 'acf');
  const centre = share(path);
  const x = path.map((bad) => (bad ? 1 : 0) - centre);
  const product = (lag: number) => mean(x.slice(lag).map((value, k) => value * (x[k] ?? 0)));
  for (const lag of [1, 2, 4]) expect(product(lag) / product(0)).toBeCloseTo(0.7 ** lag, 1);
});

it('takes the same path however often it is asked', () => {
  const plan = { stepMs: STEP_MS, toBad: { num: 1, den: 20 }, toGood: { num: 1, den: 4 } };
  const often = states(plan, 2000, 'path');
  const chain = new GilbertElliott(plan, 0, randomStream('gilbert-elliott', 'path'));
  for (let k = 0; k < 2000; k += 7) expect(chain.isBad(k * STEP_MS + 999)).toBe(often[k]);
});

it('keeps to one state, or alternates, when its chances are 0 or 1', () => {
  const always = { num: 1, den: 1 };
  const never = { num: 0, den: 1 };
  const run = (toBad: typeof always, toGood: typeof always) =>
    share(states({ stepMs: STEP_MS, toBad, toGood }, 100, 'edge'));
  expect(run(never, always)).toBe(0);
  expect(run(always, never)).toBe(1);
  expect(run(never, never)).toBe(0);
  expect(run(always, always)).toBe(0.5);
});
