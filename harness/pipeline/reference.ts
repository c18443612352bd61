// The reference pipeline: subscribe, check, store once, acknowledge, export. What the harness's checks are
// proved on, and the yardstick for a pipeline of one's own.
//
// A message is acknowledged after the transaction that holds it is durable, never before: a pipeline killed at
// any point gets the rest again from the broker, and what it gets twice collapses on (id, boot, seq).
import { NotCompleted } from '../../sim/index.ts';
import { exportReadings, exportRejectRows } from './export.ts';
import type {
  BatchSize,
  Decode,
  ExportQuery,
  Pipeline,
  PipelineCounts,
  PipelineOptions,
} from './pipeline.ts';
import { rowOf, type Row } from './row.ts';
import { Store, type Reject } from './store.ts';
import { Subscriber, type Arrival } from './subscriber.ts';
import { topicMatcher } from './topic.ts';

interface Route {
  readonly matches: (topic: string) => boolean;
  readonly decode: Decode | null;
}

export class ReferencePipeline implements Pipeline {
  readonly #storeFile: string;
  readonly #store: Store;
  readonly #routes: readonly Route[];
  readonly #batch: BatchSize;
  readonly #sizesAtStart: { readonly readings: number; readonly rejects: number };
  #subscriber: Subscriber | undefined;
  #timer: NodeJS.Timeout | undefined;
  #failure: NotCompleted | undefined;
  #closed = false;

  // The batch that is being collected: rows with the message each came in, refusals, and what to acknowledge.
  #rows: Row[] = [];
  #sources: Arrival[] = [];
  #rejects: Reject[] = [];
  #unacked: Arrival[] = [];

  readonly #counts = {
    messages: 0,
    retainedIgnored: 0,
    statusIgnored: 0,
    stored: 0,
    collapsed: 0,
    rejected: 0,
    commits: 0,
  };

  private constructor(options: PipelineOptions) {
    this.#storeFile = options.storeFile;
    this.#store = new Store(options.storeFile);
    this.#batch = options.batch;
    this.#routes = options.subscriptions.map(({ filter, decode }) => ({
      matches: topicMatcher(filter),
      decode,
    }));
    this.#sizesAtStart = this.#store.sizes();
  }

  /** Opens the store, connects and subscribes. Rejects with NotCompleted. */
  static async start(options: PipelineOptions): Promise<ReferencePipeline> {
    const pipeline = new ReferencePipeline(options);
    const filters = options.subscriptions.filter((s) => s.decode !== null).map((s) => s.filter);
    try {
      pipeline.#subscriber = await Subscriber.start(options.broker, filters, {
        onMessage: (message) => pipeline.#take(message),
        onPause: () => {
          if (pipeline.#batch.ms === 0) pipeline.#commit();
        },
      });
    } catch (error) {
      pipeline.#closeStore();
      throw error;
    }
    return pipeline;
  }

  #take(message: Arrival): void {
    // After a failure nothing is taken, and so nothing acknowledged: the broker keeps it.
    if (this.#failure !== undefined || this.#closed) return;
    this.#counts.messages += 1;
    this.#unacked.push(message);
    const route = this.#routes.find((r) => r.matches(message.topic));
    if (message.retained) this.#counts.retainedIgnored += 1;
    else if (route?.decode == null) this.#counts.statusIgnored += 1;
    else this.#read(message, route.decode);
    if (this.#rows.length >= this.#batch.rows || this.#unacked.length >= this.#batch.rows) this.#commit();
    else if (this.#batch.ms > 0) this.#timer ??= setTimeout(() => this.#commit(), this.#batch.ms);
  }

  #read(message: Arrival, decode: Decode): void {
    let readings;
    try {
      readings = decode(message.payload);
    } catch (error) {
      return this.#refuse(message, error instanceof Error ? error.message : String(error));
    }
    if (readings.length === 0) return this.#refuse(message, 'the payload holds no reading');
    for (const [i, reading] of readings.entries()) {
      const row = rowOf(reading);
      if (typeof row === 'string') {
        this.#refuse(message, readings.length === 1 ? row : `reading ${i + 1} of ${readings.length}: ${row}`);
      } else {
        this.#rows.push(row);
        this.#sources.push(message);
      }
    }
  }

  #refuse({ topic, payload }: Arrival, reason: string): void {
    this.#rejects.push({ reason, topic, payload });
  }

  /** Stores the batch, then acknowledges its messages in the order in which they came (4.6.0-2). */
  #commit(): void {
    clearTimeout(this.#timer);
    this.#timer = undefined;
    if (this.#unacked.length === 0 || this.#failure !== undefined) return;
    try {
      if (this.#rows.length > 0 || this.#rejects.length > 0) this.#storeBatch();
    } catch (error) {
      this.#failure = new NotCompleted(`store ${this.#storeFile}: ${(error as Error).message}`);
      void this.#subscriber?.close();
      return;
    }
    const acked = this.#unacked;
    this.#unacked = [];
    this.#rows = [];
    this.#sources = [];
    this.#rejects = [];
    for (const message of acked) message.ack();
  }

  #storeBatch(): void {
    const now = Date.now();
    const rejects = this.#rejects;
    const result = this.#store.commit(() => {
      const done = this.#store.addReadings(this.#rows, now);
      for (const at of done.conflicts) {
        const source = this.#sources[at];
        const [id] = this.#rows[at] ?? [];
        if (source !== undefined) {
          this.#refuse(source, `conflicting repeat: another reading of ${String(id)} has its identity`);
        }
      }
      this.#store.addRejects(rejects, now);
      return done;
    });
    this.#counts.stored += result.stored;
    this.#counts.collapsed += result.collapsed;
    this.#counts.rejected += rejects.length;
    this.#counts.commits += 1;
  }

  async counts(): Promise<PipelineCounts> {
    this.#usable();
    return {
      ...this.#counts,
      pending: this.#unacked.length,
      reconnects: this.#subscriber?.reconnects ?? 0,
      rowsInStore: this.#sizesAtStart.readings + this.#counts.stored,
      rejectsInStore: this.#sizesAtStart.rejects + this.#counts.rejected,
    };
  }

  async flush(): Promise<void> {
    this.#commit();
    this.#usable();
  }

  async exportCsv(query: ExportQuery): Promise<{ rows: number }> {
    await this.flush();
    return await exportReadings(this.#storeFile, query);
  }

  async exportRejects(file: string): Promise<{ rows: number }> {
    await this.flush();
    return await exportRejectRows(this.#storeFile, file);
  }

  async close(): Promise<void> {
    if (this.#closed) return;
    this.#commit();
    await this.#subscriber?.close();
    // What came while disconnecting is not acknowledged: the broker sends it again.
    this.#closed = true;
    clearTimeout(this.#timer);
    this.#closeStore();
    if (this.#failure !== undefined) throw this.#failure;
  }

  #closeStore(): void {
    this.#closed = true;
    this.#store.close();
  }

  #usable(): void {
    if (this.#failure !== undefined) throw this.#failure;
    if (this.#closed) throw new NotCompleted('the pipeline is closed');
  }
}
