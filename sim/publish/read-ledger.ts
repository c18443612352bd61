// A ledger, read back from its file; from as much of it as was written.
import { BadInput } from '../errors.ts';
import { JournalReader, type JournalLine } from './journal.ts';
import type { DelaySummary } from './delay.ts';
import {
  NOTES,
  noteSets,
  outcomeOf,
  type LedgerHeader,
  type LinkEvent,
  type NoteSets,
  type Outcome,
  type Span,
} from './ledger.ts';
import { RangeSet } from './range-set.ts';

export interface TrackerRecord {
  readonly sets: NoteSets;
  /** Of first attempts and of acknowledgements; undefined when there was none. */
  readonly attempts: Span | undefined;
  readonly acks: Span | undefined;
}

export interface LedgerRecord {
  /** Undefined when not even the first line was written whole. */
  readonly header: LedgerHeader | undefined;
  /** The closing line is there: the run got to its end, and nothing is missing. */
  readonly closed: boolean;
  readonly trackers: ReadonlyMap<string, TrackerRecord>;
  readonly links: readonly LinkEvent[];
  /** From the closing line. */
  readonly delay: DelaySummary | undefined;
  outcome(trackerId: string, n: number): Outcome;
}

/** Reads a ledger. A cut last line is left out; BadInput for a file that isn't a ledger. */
export async function readLedger(file: string): Promise<LedgerRecord> {
  const reading = new Reading(file);
  for await (const line of new JournalReader(file).lines()) reading.take(line);
  return {
    header: reading.header,
    closed: reading.closed,
    trackers: reading.trackers,
    links: reading.links,
    delay: reading.delay,
    outcome(trackerId, n) {
      const tracker = reading.trackers.get(trackerId);
      return tracker ? outcomeOf(tracker.sets, n) : 'never-sent';
    },
  };
}

class Reading {
  readonly #file: string;
  readonly trackers = new Map<
    string,
    { sets: NoteSets; attempts: Span | undefined; acks: Span | undefined }
  >();
  readonly links: LinkEvent[] = [];
  header: LedgerHeader | undefined;
  closed = false;
  delay: DelaySummary | undefined;

  constructor(file: string) {
    this.#file = file;
  }

  take(line: JournalLine): void {
    const { number, value } = line;
    if (number === 1) {
      if (value['wayproof'] !== 'ledger/1') this.#wrong(line, '', 'the header of a ledger');
      this.header = { seed: String(value['seed']), scenario: String(value['scenario']) };
    } else if (value['closed'] === true) {
      this.closed = this.#addsUp(value['totals']);
      this.delay = value['delay'] as DelaySummary;
    } else if (typeof value['tracker'] !== 'string') this.#wrong(line, '/tracker', 'a tracker id');
    else if (value['event'] !== undefined) this.links.push(value as unknown as LinkEvent);
    else this.#notes(line, value['tracker']);
  }

  /** Whether the lines before hold as much as the closing line says: none was taken out. */
  #addsUp(totals: unknown): boolean {
    const said = totals as Readonly<Record<string, unknown>> | undefined;
    return NOTES.every((note) => {
      let found = 0;
      for (const { sets } of this.trackers.values()) found += sets[note].size;
      return said?.[note] === found;
    });
  }

  #notes(line: JournalLine, id: string): void {
    let tracker = this.trackers.get(id);
    if (!tracker) {
      tracker = { sets: noteSets(), attempts: undefined, acks: undefined };
      this.trackers.set(id, tracker);
    }
    for (const note of NOTES) {
      const text = line.value[note];
      if (text === undefined) continue;
      const added = typeof text === 'string' ? RangeSet.parse(text) : undefined;
      if (!added) this.#wrong(line, `/${note}`, 'ranges such as 0-57,60');
      tracker.sets[note].addAll(added);
    }
    tracker.attempts = joined(tracker.attempts, line.value['attemptMs']);
    tracker.acks = joined(tracker.acks, line.value['ackMs']);
  }

  #wrong(line: JournalLine, pointer: string, expected: string): never {
    throw BadInput.at(
      { file: this.#file, line: line.number, pointer },
      expected,
      JSON.stringify(line.value).slice(0, 80),
      'give the ledger.ndjson of a run',
    );
  }
}

function joined(before: Span | undefined, more: unknown): Span | undefined {
  if (!Array.isArray(more)) return before;
  const [firstMs, lastMs] = more as readonly number[];
  if (firstMs === undefined || lastMs === undefined) return before;
  return { firstMs: before?.firstMs ?? firstMs, lastMs };
}
