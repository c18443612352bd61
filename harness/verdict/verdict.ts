// A verdict as data. Terminal, JSON and other reports are pure functions of it.

/** `not-seen`: could not be observed. It never counts as held. */
export type Outcome = 'held' | 'broken' | 'not-seen';

export type Family = 'ingest' | 'ordering' | 'values' | 'window' | 'csv' | 'schema' | 'timing';

/** Where between the sensor and the CSV a thing went wrong. */
export type Hop = 'tracker' | 'network' | 'broker' | 'consumer' | 'store' | 'export' | 'pipeline';

/** One broken instance: enough to find it by hand in the files. */
export interface Example {
  readonly tracker?: string;
  readonly boot?: number;
  readonly seq?: number;
  /** Time measured, RFC 3339. */
  readonly at?: string;
  readonly file?: string;
  /** Record of the CSV file, counted from 1, the header included. */
  readonly record?: number;
  readonly line?: number;
  readonly column?: string;
  readonly expected?: string;
  readonly found?: string;
}

/** Many broken instances with one cause. */
export interface Finding {
  /** What is wrong, in words. */
  readonly what: string;
  /** Why, as far as the evidence goes; null where no known cause fits. */
  readonly cause: Cause | null;
  readonly hop: Hop;
  readonly count: number;
  /** How many trackers it touches. */
  readonly trackers: number;
  /** The first few, in file order. */
  readonly examples: readonly Example[];
}

export interface Cause {
  /** Stable name, e.g. `rounded`. */
  readonly name: string;
  readonly words: string;
  readonly evidence: string;
  /** Share of the instances that the cause explains, 0 to 1. */
  readonly explains: number;
  readonly sure: 'certain' | 'likely' | 'possible';
}

export interface CheckResult {
  /** e.g. `ingest.complete`. */
  readonly id: string;
  readonly family: Family;
  readonly promise: string;
  readonly outcome: Outcome;
  /** How many instances were looked at. */
  readonly looked: number;
  /** Why it is not seen, or what was looked at. */
  readonly words: string;
  readonly findings: readonly Finding[];
}

export interface Verdict {
  readonly outcome: Outcome;
  readonly checks: readonly CheckResult[];
}

/** The verdict of a run that couldn't be completed: what held so far is no proof of the rest. */
export function cutShort(verdict: Verdict): Verdict {
  return verdict.outcome === 'held' ? { ...verdict, outcome: 'not-seen' } : verdict;
}

/** The verdict of a list of checks. A check that isn't seen doesn't break a run, and is always told. */
export function fold(checks: readonly CheckResult[]): Verdict {
  const broken = checks.some((check) => check.outcome === 'broken');
  const held = checks.some((check) => check.outcome === 'held');
  return { outcome: broken ? 'broken' : held ? 'held' : 'not-seen', checks };
}
