// Everything a run came to, as one JSON document. Every other report is a pure function of it.
import type { Verdict } from '../verdict/verdict.ts';

/** Counts at the three vantage points and between them. */
export interface Flow {
  readonly trackers: number;
  readonly readingsMade: number;
  readonly readingsSent: number;
  /** Readings made and never sent: dropped by a full buffer, lost with the power, or still held at the end. */
  readonly readingsUnsent: number;
  readonly messages: number;
  readonly acked: number;
  /** Null without a tap. */
  readonly accepted: number | null;
  readonly resent: number;
  readonly rows: number;
}

export interface Result {
  readonly wayproof: 'result/1';
  readonly version: string;
  readonly scenario: {
    readonly title: string;
    readonly shows: string;
    readonly file: string;
    readonly seed: string;
    readonly from: string;
    readonly to: string;
    /** SHA-256 over the emission stream. */
    readonly digest: string;
  };
  readonly contract: { readonly title: string; readonly file: string };
  /** One command that does the same again. */
  readonly again: string;
  readonly files: {
    readonly folder: string;
    readonly csv: string;
    readonly evidence: readonly string[];
  };
  readonly flow: Flow;
  /** Null where the run was whole; else what is missing, in words. */
  readonly incomplete: string | null;
  readonly verdict: Verdict;
  /** Real time, for people; nothing is judged by it. */
  readonly seconds: number;
}
