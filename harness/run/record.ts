// What run.json says: enough to judge the folder again.
import type { Period } from './windows.ts';

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
