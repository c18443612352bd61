// What run.json says: enough to judge the folder again.
import type { Period } from './windows.ts';

/** The record in the text of a run.json; undefined where the text is none. */
export function parseRecord(text: string): RunRecord | undefined {
  let value: unknown;
  try {
    value = JSON.parse(text);
  } catch {
    return undefined;
  }
  return isRecord(value) ? value : undefined;
}

function isRecord(value: unknown): value is RunRecord {
  if (typeof value !== 'object' || value === null) return false;
  const { wayproof, scenarioFile, contractFile, seed, defect, digest, whole, windows, ...rest } =
    value as Readonly<Record<string, unknown>>;
  const texts = [scenarioFile, contractFile, seed, digest];
  const counts = ['readingsSent', 'readingsUnsent', 'messages', 'pipelineDrops'].map((name) => rest[name]);
  return (
    wayproof === 'run/1' &&
    texts.every((text) => typeof text === 'string') &&
    counts.every((count) => Number.isInteger(count)) &&
    (defect === null || typeof defect === 'string') &&
    (rest['incomplete'] === null || typeof rest['incomplete'] === 'string') &&
    isPeriod(whole) &&
    Array.isArray(windows) &&
    windows.every(isPeriod)
  );
}

function isPeriod(value: unknown): boolean {
  const { fromMs, toMs } = (value ?? {}) as Readonly<Record<string, unknown>>;
  return Number.isFinite(fromMs) && Number.isFinite(toMs);
}

export interface RunRecord {
  readonly wayproof: 'run/1';
  /** As it was named on the command line; places named in it are looked for beside it. */
  readonly scenarioFile: string;
  readonly contractFile: string;
  readonly seed: string;
  /** The deliberate defect of the pipeline, or null for the sound one. */
  readonly defect: string | null;
  readonly digest: string;
  readonly whole: Period;
  readonly windows: readonly Period[];
  readonly readingsSent: number;
  readonly readingsUnsent: number;
  readonly messages: number;
  /** How often the pipeline's connection to the broker ended before the run did. */
  readonly pipelineDrops: number;
  /** Null where the run was whole; else what is missing, in words. */
  readonly incomplete: string | null;
}
