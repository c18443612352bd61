// What the broker accepted, in the order in which it accepted it: one line of NDJSON a message.
import { hash } from 'node:crypto';
import { BadInput } from '../errors.ts';
import { JournalReader, JournalWriter } from '../publish/journal.ts';
import { topicMatches } from './topics.ts';

/** One message that the broker accepted from a client, or published as that client's will. */
export interface TapRecord {
  /** Since the tap was opened. */
  readonly ms: number;
  readonly client: string;
  readonly topic: string;
  readonly qos: number;
  readonly retain: boolean;
  /** As it came: never a proof of a duplicate (3.3.1.1). */
  readonly dup: boolean;
  readonly bytes: number;
  /** First 32 hex digits of the payload's SHA-256. */
  readonly sha256: string;
}

/** What is written of a message. */
export interface TappedMessage {
  readonly topic: string;
  readonly qos: number;
  readonly retain: boolean;
  readonly dup: boolean;
  readonly payload: string | Uint8Array;
}

/** The digest that a tap keeps of a payload. */
export function payloadDigest(payload: string | Uint8Array): string {
  return hash('sha256', payload, 'hex').slice(0, 32);
}

/** Records messages. Without a file it only counts. */
export class Tap {
  readonly #journal: JournalWriter | undefined;
  readonly #filters: readonly string[];
  readonly #accepted = new Map<string, number>();
  readonly #filtersOf = new Map<string, readonly string[]>();
  readonly #startMs = performance.now();
  #messages = 0;
  #atQos0 = 0;

  private constructor(journal: JournalWriter | undefined, count: readonly string[]) {
    this.#journal = journal;
    this.#filters = count;
    for (const filter of count) this.#accepted.set(filter, 0);
  }

  /**
   * Opens `file` anew, its first line a header of the caller's. BadInput where it can't be written to.
   * `count`: topic filters of which `accepted` keeps the number of messages.
   */
  static async open(
    file: string | undefined,
    header: Readonly<Record<string, unknown>> = {},
    count: readonly string[] = ['#'],
  ): Promise<Tap> {
    const journal = file === undefined ? undefined : await JournalWriter.create(file);
    journal?.line(JSON.stringify({ wayproof: 'tap/1', ...header }));
    return new Tap(journal, count);
  }

  /** Messages accepted, by topic filter. */
  get accepted(): ReadonlyMap<string, number> {
    return this.#accepted;
  }

  /** Messages accepted, all. */
  get messages(): number {
    return this.#messages;
  }

  /** Messages accepted at QoS 0 under the counted filters: those that nobody delivers again. */
  get atQos0(): number {
    return this.#atQos0;
  }

  record(client: string, message: TappedMessage): void {
    const { topic, qos, retain, dup, payload } = message;
    this.#messages += 1;
    let filters = this.#filtersOf.get(topic);
    if (!filters) {
      filters = this.#filters.filter((filter) => topicMatches(filter, topic));
      this.#filtersOf.set(topic, filters);
    }
    if (qos === 0 && filters.length > 0) this.#atQos0 += 1;
    for (const filter of filters) this.#accepted.set(filter, (this.#accepted.get(filter) ?? 0) + 1);
    if (!this.#journal) return;
    const record: TapRecord = {
      ms: Math.round((performance.now() - this.#startMs) * 1000) / 1000,
      client,
      topic,
      qos,
      retain,
      dup,
      bytes: typeof payload === 'string' ? Buffer.byteLength(payload) : payload.length,
      sha256: payloadDigest(payload),
    };
    this.#journal.line(JSON.stringify(record));
  }

  /** Writes the closing line. NotCompleted when the disk didn't take everything. */
  async close(): Promise<void> {
    this.#journal?.line(JSON.stringify({ closed: true, messages: this.#messages }));
    await this.#journal?.close();
  }
}

/** A tap's file, read as a stream; `complete` is known once the records have ended. */
export class TapReader implements AsyncIterable<TapRecord> {
  readonly #file: string;
  #complete = false;
  #header: Readonly<Record<string, unknown>> | undefined;

  constructor(file: string) {
    this.#file = file;
  }

  /** The closing line was there: the tap's writer got to finish, and every record was read. */
  get complete(): boolean {
    return this.#complete;
  }

  /** The first line, once the first record was read. */
  get header(): Readonly<Record<string, unknown>> | undefined {
    return this.#header;
  }

  /** A cut tail is left out. BadInput for a file that isn't a tap's. */
  async *[Symbol.asyncIterator](): AsyncGenerator<TapRecord, void> {
    const journal = new JournalReader(this.#file);
    let messages = 0;
    for await (const { number, value } of journal.lines()) {
      if (number === 1) {
        if (value['wayproof'] !== 'tap/1') {
          throw BadInput.at(
            { file: this.#file, line: 1 },
            'the header of a tap',
            JSON.stringify(value).slice(0, 60),
            'give the tap.ndjson of a run',
          );
        }
        this.#header = value;
      } else if (value['closed'] === true) this.#complete = value['messages'] === messages;
      else {
        messages += 1;
        yield value as unknown as TapRecord;
      }
    }
  }
}

export function readTap(file: string): TapReader {
  return new TapReader(file);
}
