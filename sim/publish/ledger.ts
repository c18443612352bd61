// What recomputing can't tell: which emissions were sent, acknowledged, refused, and when links broke.
// In memory as ranges of emission numbers; on disk as lines that each add to the ones before.
import { DelayHistogram, type DelaySummary } from './delay.ts';
import { JournalWriter } from './journal.ts';
import { RangeSet } from './range-set.ts';

/** What became of an emission. `unknown`: sent, and nothing came back (QoS 0: nothing ever does). */
export type Outcome = 'acked' | 'refused' | 'unknown' | 'never-sent';

/** What the ledger notes of an emission, as sets of emission numbers. */
export const NOTES = ['attempted', 'again', 'written', 'acked', 'refused'] as const;
/**
 * attempted: given to the socket, at any QoS. again: more than once. written: the attempted ones of QoS 0.
 * acked: PUBACK or PUBCOMP came. refused: the broker closed the link rather than take it.
 */
export type Note = (typeof NOTES)[number];
export type NoteSets = Readonly<Record<Note, RangeSet>>;

export function noteSets(): NoteSets {
  return {
    attempted: new RangeSet(),
    again: new RangeSet(),
    written: new RangeSet(),
    acked: new RangeSet(),
    refused: new RangeSet(),
  };
}

export function outcomeOf(sets: NoteSets, n: number): Outcome {
  if (sets.acked.has(n)) return 'acked';
  if (sets.refused.has(n)) return 'refused';
  return sets.attempted.has(n) ? 'unknown' : 'never-sent';
}

/** First and last time of something, real ms since the ledger was opened. */
export interface Span {
  readonly firstMs: number;
  readonly lastMs: number;
}

/** `refused`: the broker turned CONNECT away. `lost`: the link went without the scenario's wish. */
export type LinkEventKind = 'connect' | 'drop' | 'lost' | 'refused';

export interface LinkEvent {
  /** Real ms since the ledger was opened. */
  readonly ms: number;
  readonly tracker: string;
  readonly event: LinkEventKind;
  /** How it was dropped, or why it was lost or refused; empty for a connect. */
  readonly how: string;
}

export interface LedgerHeader {
  readonly seed: string;
  /** Digest of the scenario. */
  readonly scenario: string;
}

export type LedgerTotals = Readonly<Record<Note, number>>;

/** One tracker's part. */
export class TrackerLedger {
  readonly id: string;
  readonly all: NoteSets = noteSets();
  readonly #fresh: NoteSets = noteSets();
  readonly #ledger: Ledger;
  #listed = false;
  #attempts: { firstMs: number; lastMs: number } | undefined;
  #acks: { firstMs: number; lastMs: number } | undefined;

  constructor(ledger: Ledger, id: string) {
    this.#ledger = ledger;
    this.id = id;
  }

  outcome(n: number): Outcome {
    return outcomeOf(this.all, n);
  }

  /** Given to the socket. `confirmed`: QoS 1 or 2, so an acknowledgement is due. */
  attempted(n: number, ms: number, confirmed: boolean): void {
    this.#note('attempted', n);
    if (!confirmed) this.#note('written', n);
    if (this.#attempts) this.#attempts.lastMs = ms;
    else this.#attempts = { firstMs: ms, lastMs: ms };
  }

  sentAgain(n: number): void {
    this.#note('again', n);
  }

  acked(n: number, ms: number, delayMs: number): void {
    this.#note('acked', n);
    this.#ledger.delay.record(delayMs);
    if (this.#acks) this.#acks.lastMs = ms;
    else this.#acks = { firstMs: ms, lastMs: ms };
  }

  refused(n: number): void {
    this.#note('refused', n);
  }

  #note(note: Note, n: number): void {
    if (!this.all[note].add(n)) return;
    this.#fresh[note].add(n);
    this.#ledger.count(note);
    if (this.#listed) return;
    this.#listed = true;
    this.#ledger.changed(this);
  }

  /** The line that says what is new since the last one. For the ledger. */
  takeLine(ms: number): string {
    const line: Record<string, unknown> = { ms: rounded(ms), tracker: this.id };
    for (const note of NOTES) {
      if (this.#fresh[note].size > 0) line[note] = this.#fresh[note].toText();
      this.#fresh[note].clear();
    }
    if (this.#attempts) line['attemptMs'] = [rounded(this.#attempts.firstMs), rounded(this.#attempts.lastMs)];
    if (this.#acks) line['ackMs'] = [rounded(this.#acks.firstMs), rounded(this.#acks.lastMs)];
    this.#attempts = undefined;
    this.#acks = undefined;
    this.#listed = false;
    return JSON.stringify(line);
  }
}

export class Ledger {
  readonly delay = new DelayHistogram();
  readonly #journal: JournalWriter | undefined;
  readonly #trackers = new Map<string, TrackerLedger>();
  readonly #counts: Record<Note, number> = { attempted: 0, again: 0, written: 0, acked: 0, refused: 0 };
  readonly #startMs = performance.now();
  readonly #timer: NodeJS.Timeout | undefined;
  #changed: TrackerLedger[] = [];

  private constructor(journal: JournalWriter | undefined, header: LedgerHeader, flushMs: number) {
    this.#journal = journal;
    journal?.line(JSON.stringify({ wayproof: 'ledger/1', seed: header.seed, scenario: header.scenario }));
    // Trouble with the disk is kept by the journal, and told at flush and close.
    if (journal) this.#timer = setInterval(() => this.#writeChanges(), flushMs).unref();
  }

  /** Opens `file` anew; without one the ledger is kept in memory alone. BadInput where it can't be written to. */
  static async open(file: string | undefined, header: LedgerHeader, flushMs = 1000): Promise<Ledger> {
    return new Ledger(file === undefined ? undefined : await JournalWriter.create(file), header, flushMs);
  }

  /** Real ms since the ledger was opened. */
  nowMs(): number {
    return performance.now() - this.#startMs;
  }

  tracker(id: string): TrackerLedger {
    let tracker = this.#trackers.get(id);
    if (!tracker) {
      tracker = new TrackerLedger(this, id);
      this.#trackers.set(id, tracker);
    }
    return tracker;
  }

  outcome(trackerId: string, n: number): Outcome {
    return this.#trackers.get(trackerId)?.outcome(n) ?? 'never-sent';
  }

  /** How many emissions each note was made of. */
  get totals(): LedgerTotals {
    return this.#counts;
  }

  link(tracker: string, event: LinkEventKind, how = ''): void {
    const entry: LinkEvent = { ms: rounded(this.nowMs()), tracker, event, how };
    this.#journal?.line(JSON.stringify(entry));
  }

  /** For TrackerLedger. */
  count(note: Note): void {
    this.#counts[note] += 1;
  }

  /** For TrackerLedger. */
  changed(tracker: TrackerLedger): void {
    this.#changed.push(tracker);
  }

  #writeChanges(): void {
    const ms = this.nowMs();
    const changed = this.#changed;
    this.#changed = [];
    for (const tracker of changed) {
      const line = tracker.takeLine(ms);
      this.#journal?.line(line);
    }
  }

  /** Brings the file up to now. NotCompleted when the disk refuses. */
  async flush(): Promise<void> {
    this.#writeChanges();
    await this.#journal?.flush();
  }

  /** Writes what is left, and the closing line. NotCompleted when the disk didn't take everything. */
  async close(): Promise<void> {
    clearInterval(this.#timer);
    this.#writeChanges();
    const delay: DelaySummary = this.delay.summary();
    this.#journal?.line(
      JSON.stringify({ closed: true, ms: rounded(this.nowMs()), totals: this.#counts, delay }),
    );
    await this.#journal?.close();
  }
}

function rounded(ms: number): number {
  return Math.round(ms * 10) / 10;
}
