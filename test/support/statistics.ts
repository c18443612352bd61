// Statistics for tests, themselves proved by test/published/allan-deviation.test.ts where a published set exists.
// Critical values: tables of the chi-square and Kolmogorov distributions.

export function mean(x: ArrayLike<number>): number {
  let sum = 0;
  for (let i = 0; i < x.length; i++) sum += x[i] ?? Number.NaN;
  return sum / x.length;
}

/** Variance around the mean, divided by n - 1. */
export function variance(x: ArrayLike<number>): number {
  const centre = mean(x);
  let sum = 0;
  for (let i = 0; i < x.length; i++) sum += ((x[i] ?? Number.NaN) - centre) ** 2;
  return sum / (x.length - 1);
}

/** Autocorrelation at a lag. Give `centre` and `power` where the true mean and variance are known. */
export function autocorrelation(
  x: ArrayLike<number>,
  lag: number,
  centre = mean(x),
  power = variance(x),
): number {
  let sum = 0;
  for (let i = lag; i < x.length; i++) {
    sum += ((x[i] ?? Number.NaN) - centre) * ((x[i - lag] ?? Number.NaN) - centre);
  }
  return sum / (x.length - lag) / power;
}

/** Value below which a share of the sample lies. */
export function quantile(x: readonly number[], share: number): number {
  const sorted = x.toSorted((a, b) => a - b);
  return sorted[Math.min(Math.floor(share * sorted.length), sorted.length - 1)] ?? Number.NaN;
}

/** Kolmogorov-Smirnov distance from a fully specified distribution; for independent samples only. */
export function kolmogorovSmirnov(x: readonly number[], cdf: (value: number) => number): number {
  const sorted = x.toSorted((a, b) => a - b);
  let distance = 0;
  sorted.forEach((value, i) => {
    const p = cdf(value);
    distance = Math.max(distance, (i + 1) / sorted.length - p, p - i / sorted.length);
  });
  return distance;
}

/** Asymptotic limit of the Kolmogorov-Smirnov distance at significance 0.001. */
export function ksLimit001(n: number): number {
  return 1.94947 / Math.sqrt(n);
}

/** Pearson's chi-square statistic. Every expected count should be 5 or more (common practice). */
export function chiSquare(observed: readonly number[], expected: readonly number[]): number {
  return observed.reduce((sum, count, i) => {
    const should = expected[i] ?? Number.NaN;
    return sum + (count - should) ** 2 / should;
  }, 0);
}

/** Allan deviation of rate ("frequency") data with an averaging factor of m samples (NIST SP 1065, 5.2.2). */
export function allanDeviation(rate: readonly number[], m: number): number {
  const averages: number[] = [];
  for (let i = 0; i + m <= rate.length; i += m) averages.push(mean(rate.slice(i, i + m)));
  let sum = 0;
  for (let i = 1; i < averages.length; i++) {
    sum += ((averages[i] ?? Number.NaN) - (averages[i - 1] ?? Number.NaN)) ** 2;
  }
  return Math.sqrt(sum / (2 * (averages.length - 1)));
}

/** Overlapping Allan deviation of rate data (NIST SP 1065, 5.2.4). */
export function overlappingAllanDeviation(rate: readonly number[], m: number): number {
  const phase = integrate(rate);
  const n = phase.length;
  let sum = 0;
  for (let i = 0; i + 2 * m < n; i++) sum += secondDifference(phase, i, m) ** 2;
  return Math.sqrt(sum / (2 * m * m * (n - 2 * m)));
}

/** Modified Allan deviation of rate data (NIST SP 1065, 5.2.5). */
export function modifiedAllanDeviation(rate: readonly number[], m: number): number {
  const phase = integrate(rate);
  const n = phase.length;
  const windows = n - 3 * m + 1;
  let total = 0;
  for (let j = 0; j < windows; j++) {
    let inner = 0;
    for (let i = j; i < j + m; i++) inner += secondDifference(phase, i, m);
    total += inner * inner;
  }
  return Math.sqrt(total / (2 * m ** 4 * windows));
}

/** Phase of rate data, one sample longer, from 0. */
function integrate(rate: readonly number[]): Float64Array {
  const phase = new Float64Array(rate.length + 1);
  rate.forEach((y, i) => {
    phase[i + 1] = (phase[i] ?? Number.NaN) + y;
  });
  return phase;
}

function secondDifference(phase: Float64Array, i: number, m: number): number {
  return (phase[i + 2 * m] ?? Number.NaN) - 2 * (phase[i + m] ?? Number.NaN) + (phase[i] ?? Number.NaN);
}
