// How likely it is that what looks like a pattern is none.
import type { Cause, Hop } from '../verdict/verdict.ts';
import { worth, type Hypothesis } from './hypothesis.ts';

/**
 * Bound on the chance that so many of those picked are broken, where each is with the share that all have (Chernoff,
 * in the form of Hoeffding 1963, theorem 1): exp(-n · KL(found share || share of all)).
 */
export function chanceOf(covered: number, wrongly: number, broken: number, sound: number): number {
  const n = covered + wrongly;
  const share = broken / (broken + sound);
  const found = covered / n;
  if (n === 0 || found <= share) return 1;
  const part = (p: number, q: number): number => (p === 0 ? 0 : p * Math.log(p / q));
  return Math.exp(-n * (part(found, share) + part(1 - found, 1 - share)));
}

/** What a pattern may be called at best, with so many others tried beside it. */
export function surenessOf(chance: number, tried: number): Cause['sure'] | undefined {
  const any = chance * tried;
  if (any < 1e-6) return 'certain';
  if (any < 1e-3) return 'likely';
  return any < 0.05 ? 'possible' : undefined;
}

/** One way in which broken instances may differ from sound ones. */
export interface Contrast<T> {
  readonly covers: (instance: T) => boolean;
  /** What the broken have, e.g. `every reading later than 60 s is missing`. */
  readonly say: (covered: number, wrongly: number) => string;
  /** How many like it were looked through. */
  readonly tried?: number;
  /** Least share of broken ones among those it picks. */
  readonly leastPrecision?: number;
  /** What a sound one would have to be for the cause to have spared it by a miracle. */
  readonly wouldBreak?: (sound: T) => boolean;
}

/** Something that came in a message: what comes together is lost together, so that messages are counted. */
interface Carried {
  readonly expected: { readonly emission: object };
}

const LEAST_PRECISION = 0.8;
/** Hypotheses of a list that could each strike by chance. */
const LIST = 30;

/** A cause that shows only in what sets the broken apart from the sound: both are needed. */
export function contrast<T extends Carried>(
  name: string,
  words: string,
  hop: Hop,
  find: (broken: readonly T[], sound: readonly T[]) => Contrast<T> | undefined,
  implies: readonly string[] = [],
): Hypothesis<T> {
  return {
    name,
    words,
    hop,
    implies,
    fit(broken, sound) {
      if (broken.length === 0 || sound.length === 0) return undefined;
      const found = find(broken, sound);
      if (!found) return undefined;
      const wouldBreak = found.wouldBreak ?? found.covers;
      const coveredOnes = broken.filter((one) => found.covers(one));
      const wrongOnes = sound.filter((one) => wouldBreak(one));
      const [covered, wrongly] = [coveredOnes.length, wrongOnes.length];
      if (covered === 0 || covered / (covered + wrongly) < (found.leastPrecision ?? LEAST_PRECISION))
        return undefined;
      const chance = chanceOf(messages(coveredOnes), messages(wrongOnes), messages(broken), messages(sound));
      const atMost = surenessOf(chance, LIST * (found.tried ?? 1));
      if (!atMost) return undefined;
      const counts = `${covered} of ${broken.length} missing, ${wrongly} of ${sound.length} found`;
      return {
        covers: found.covers,
        wouldBreak,
        evidence: `${found.say(covered, wrongly)} (${counts})`,
        atMost,
      };
    },
  };
}

function messages(ones: readonly Carried[]): number {
  return new Set(ones.map(({ expected }) => expected.emission)).size;
}

/** A yes or no of each instance. */
export function where<T extends Carried>(
  name: string,
  words: string,
  hop: Hop,
  covers: (instance: T) => boolean,
  say: string,
  implies: readonly string[] = [],
): Hypothesis<T> {
  return contrast<T>(name, words, hop, () => ({ covers, say: () => say }), implies);
}

/** A number of each instance; NaN where it has none. */
export interface Feature<T> {
  readonly of: (instance: T) => number;
  /** From which value on: at least, or at most. */
  readonly side: 'above' | 'below';
  /** Values on the sound side of this say nothing. */
  readonly from?: number;
  readonly say: (bound: string, beside: string) => string;
  readonly show: (value: number) => string;
  readonly leastPrecision?: number;
}

/** The bound that parts broken from sound best. */
export function threshold<T>(
  feature: Feature<T>,
  broken: readonly T[],
  sound: readonly T[],
): Contrast<T> | undefined {
  const sign = feature.side === 'above' ? 1 : -1;
  // From the most extreme inwards.
  const of = (one: T): number => sign * feature.of(one);
  const values = (list: readonly T[]) =>
    list
      .map(of)
      .filter((value) => !Number.isNaN(value))
      .toSorted((a, b) => (a < b ? 1 : a > b ? -1 : 0));
  const [bad, good] = [values(broken), values(sound)];
  const least = feature.from === undefined ? Number.NEGATIVE_INFINITY : sign * feature.from;
  let [best, bound, wrongly] = [0, Number.NaN, 0];
  bad.forEach((value, k) => {
    if (value < least) return;
    while (wrongly < good.length && (good[wrongly] ?? Number.NaN) >= value) wrongly += 1;
    const covered = k + 1;
    const score = worth(covered, covered / (covered + wrongly));
    if (score >= best) [best, bound] = [score, value];
  });
  if (Number.isNaN(bound)) return undefined;
  const next = good.find((value) => value < bound);
  // A bound that every sound one lies beyond is none.
  if (next === undefined) return undefined;
  return {
    covers: (one) => of(one) >= bound,
    say: () => feature.say(feature.show(sign * bound), feature.show(sign * next)),
    tried: Math.min(10, new Set(bad).size),
    ...(feature.leastPrecision === undefined ? {} : { leastPrecision: feature.leastPrecision }),
  };
}

/** Of several contrasts, the one that explains the most for the fewest mistakes. */
export function bestContrast<T>(
  candidates: readonly (Contrast<T> | undefined)[],
  broken: readonly T[],
  sound: readonly T[],
): Contrast<T> | undefined {
  let [best, most]: [Contrast<T> | undefined, number] = [undefined, 0];
  for (const candidate of candidates) {
    if (!candidate) continue;
    const covered = broken.filter((one) => candidate.covers(one)).length;
    const wrongly = sound.filter((one) => (candidate.wouldBreak ?? candidate.covers)(one)).length;
    const score = covered === 0 ? 0 : worth(covered, covered / (covered + wrongly));
    if (score > most) [best, most] = [candidate, score];
  }
  return best && { ...best, tried: (best.tried ?? 1) * candidates.length };
}
