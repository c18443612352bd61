// Causes are worked out by trying explanations on what broke, in a fixed order, and keeping those that fit.
import type { Cause, Hop } from '../verdict/verdict.ts';

/** An explanation that fits: which instances it covers, and what shows it. */
export interface Fit<T> {
  /** Whether the cause would have made this broken instance what it is. */
  readonly covers: (instance: T) => boolean;
  /** Whether it would have broken this sound instance; the same question as `covers` where left out. */
  readonly wouldBreak?: (sound: T) => boolean;
  /**
   * What is found shows the cause by itself, as a cell that holds 3.6 times its number does. Sound instances that it
   * would have broken then only say that it doesn't strike everywhere.
   */
  readonly exact?: boolean;
  /** Never surer than this, e.g. where all instances are alike. */
  readonly atMost?: Cause['sure'];
  /** The numbers that show it, in one line, e.g. `found / expected = 3.6 in every row`. */
  readonly evidence: string;
}

/** One explanation of why instances of a kind break. */
export interface Hypothesis<T> {
  /** Stable name of the cause, e.g. `single-precision`. */
  readonly name: string;
  /** What happened, in words an engineer can act on. */
  readonly words: string;
  /** Where such a thing happens. */
  readonly hop: Hop;
  /** Names of causes that explain whatever this one explains: they raise no doubt of it. */
  readonly implies?: readonly string[];
  /**
   * Looks at broken instances and at sound ones of the same kind. undefined where it can't be the cause.
   * May be called again with what an earlier cause left unexplained.
   */
  fit(broken: readonly T[], sound: readonly T[]): Fit<T> | undefined;
}

export interface Diagnosed<T> {
  readonly cause: Cause;
  readonly hop: Hop;
  /** The instances of the sample it explains. */
  readonly instances: readonly T[];
}

/** A cause must explain at least this share of what is left, else it is chance. */
const LEAST_SHARE = 0.05;
/** Below this share of what is left, an explanation may be a coincidence. */
const LIKELY_SHARE = 0.1;
/** Below so many broken or sound instances nothing is certain. */
const ENOUGH = 3;
const MOST_CAUSES = 4;

/**
 * Explains a sample of broken instances: the best cause first, then the best of what it leaves, and so on.
 * Earlier hypotheses win ties: the list goes from the specific to the general. What no cause explains is left over.
 */
export function diagnose<T>(
  hypotheses: readonly Hypothesis<T>[],
  broken: readonly T[],
  sound: readonly T[],
): { readonly causes: readonly Diagnosed<T>[]; readonly unexplained: readonly T[] } {
  const causes: Diagnosed<T>[] = [];
  let left = broken;
  while (left.length > 0 && causes.length < MOST_CAUSES) {
    const best = bestOf(hypotheses, left, sound);
    if (!best) break;
    causes.push({
      hop: best.hypothesis.hop,
      instances: best.covered,
      cause: {
        name: best.hypothesis.name,
        words: best.hypothesis.words,
        evidence: best.evidence,
        explains: best.covered.length / broken.length,
        sure: best.sure,
      },
    });
    const covered = new Set(best.covered);
    left = left.filter((instance) => !covered.has(instance));
  }
  return { causes, unexplained: left };
}

interface Scored<T> {
  readonly hypothesis: Hypothesis<T>;
  readonly fit: Fit<T>;
  readonly covered: readonly T[];
  readonly wrongly: number;
  readonly score: number;
}

interface Best<T> {
  readonly hypothesis: Hypothesis<T>;
  readonly covered: readonly T[];
  readonly evidence: string;
  readonly sure: Cause['sure'];
}

const SAME_SCORE = 1e-9;

function bestOf<T>(
  hypotheses: readonly Hypothesis<T>[],
  left: readonly T[],
  sound: readonly T[],
): Best<T> | undefined {
  let best: Scored<T> | undefined;
  let rivals: string[] = [];
  for (const hypothesis of hypotheses) {
    const scored = score(hypothesis, left, sound);
    if (!scored) continue;
    if (best && scored.score <= best.score + SAME_SCORE) {
      const asGood = scored.score >= best.score - SAME_SCORE;
      if (asGood && isRival(hypothesis, scored.fit, best.hypothesis)) rivals.push(hypothesis.name);
      continue;
    }
    best = scored;
    rivals = [];
  }
  if (!best) return undefined;
  const { hypothesis, covered, fit } = best;
  // What is found shows an exact cause; of the others, those that explain as much can't be told apart.
  const doubtful = !fit.exact && rivals.length > 0;
  const sure = surety(covered.length, left.length, best.wrongly);
  return {
    hypothesis,
    covered,
    evidence: doubtful
      ? `${fit.evidence}; ${[...new Set(rivals)].join(', ')} would explain as much`
      : fit.evidence,
    sure: lesser(lesser(sure, doubtful ? 'likely' : 'certain'), fit.atMost ?? 'certain'),
  };
}

function isRival<T>({ name }: Hypothesis<T>, fit: Fit<T>, best: Hypothesis<T>): boolean {
  return !fit.exact && name !== best.name && !best.implies?.includes(name);
}

function score<T>(hypothesis: Hypothesis<T>, left: readonly T[], sound: readonly T[]): Scored<T> | undefined {
  const fit = hypothesis.fit(left, sound);
  if (!fit) return undefined;
  const covered = left.filter((instance) => fit.covers(instance));
  if (covered.length === 0) return undefined;
  const wouldBreak = fit.wouldBreak ?? fit.covers;
  const wrongly = sound.filter((instance) => wouldBreak(instance)).length;
  const share = covered.length / left.length;
  const precision = fit.exact ? 1 : covered.length / (covered.length + wrongly);
  if (precision * precision * share < LEAST_SHARE) return undefined;
  return { hypothesis, fit, covered, wrongly, score: worth(share, precision) };
}

/**
 * Precision before coverage: what a cause leaves, another may explain, but a sound instance that it would have broken
 * speaks against it for good.
 */
export function worth(covered: number, precision: number): number {
  return covered * precision ** 8;
}

function surety(covered: number, left: number, wrongly: number): Cause['sure'] {
  if (covered === left && wrongly === 0 && covered >= ENOUGH) return 'certain';
  const likely = wrongly <= covered * 0.05 && covered >= ENOUGH && covered >= LIKELY_SHARE * left;
  return likely ? 'likely' : 'possible';
}

const RISING: readonly Cause['sure'][] = ['possible', 'likely', 'certain'];

function lesser(a: Cause['sure'], b: Cause['sure']): Cause['sure'] {
  return RISING.indexOf(a) < RISING.indexOf(b) ? a : b;
}
