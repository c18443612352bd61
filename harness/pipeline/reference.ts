// The reference pipeline: subscribe, check, store once, acknowledge, export. What the harness's checks are
// proved on, and the yardstick for a pipeline of one's own.
//
// A message is acknowledged after the transaction that holds it is durable, never before: a pipeline killed at
// any point gets the rest again from the broker, and what it gets twice collapses on (id, boot, seq).
import { NotCompleted, topicMatches, type WireReading } from '../../sim/index.ts';
import { SOUND, type Damage, type MakeDamage, type SessionRules } from './damage.ts';
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
import { SOUND_STORE, Store, type Reject } from './store.ts';
import { Subscriber, type Arrival } from './subscriber.ts';

/** The broker keeps what comes while we are away, and what we subscribed to. */
const KEPT_SESSION: SessionRules = { clean: false, subscribes: 'where-lost' };

interface Route {
  readonly filter: string;
  readonly decode: Decode | null;
}

export class ReferencePipeline implements Pipeline {
  readonly #storeFile: string;
  readonly #store: Store;
  readonly #options: PipelineOptions;
  readonly #makeDamage: MakeDamage;
  readonly #sizesAtStart: { readonly readings: number; readonly rejects: number };
  #damage: Damage;
  #routes: readonly Route[] = [];
  #batch: BatchSize;
  #subscriber: Subscriber | undefined;
  #timer: NodeJS.Timeout | undefined;
  #failure: NotCompleted | undefined;
  #closed = false;
  /** Between crash and resume. */
  #down = false;

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

  private constructor(options: PipelineOptions, makeDamage: MakeDamage) {
    this.#storeFile = options.storeFile;
    this.#options = options;
    this.#makeDamage = makeDamage;
    this.#damage = makeDamage();
    this.#batch = options.batch;
    this.#store = new Store(options.storeFile, this.#damage.store ?? SOUND_STORE);
    this.#sizesAtStart = this.#store.sizes();
  }

  /** Opens the store, connects and subscribes. Rejects with NotCompleted. `makeDamage`: a deliberate defect. */
  static async start(
    options: PipelineOptions,
    makeDamage: MakeDamage = () => SOUND,
  ): Promise<ReferencePipeline> {
    const pipeline = new ReferencePipeline(options, makeDamage);
    try {
      await pipeline.#connect(true);
    } catch (error) {
      pipeline.#closeStore();
      throw error;
    }
    return pipeline;
  }

  async #connect(first: boolean): Promise<void> {
    const { subscriptions, broker } = this.#options;
    const { clean, subscribes } = this.#damage.session ?? KEPT_SESSION;
    const subscribed = this.#damage.subscriptions?.(subscriptions) ?? subscriptions;
    this.#batch = this.#damage.batch ?? this.#options.batch;
    this.#routes = subscribed.map(({ filter, decode }) => ({ filter, decode }));
    const filters = subscribed.filter(({ decode }) => decode !== null).map(({ filter }) => filter);
    const events = {
      onMessage: (message: Arrival) => this.#take(message),
      onPause: () => {
        if (this.#batch.ms === 0) this.#commit();
      },
    };
    this.#subscriber = await Subscriber.start(broker, first || subscribes !== 'once' ? filters : [], events, {
      clean,
      anew: first || subscribes === 'always',
    });
  }

  async crash(): Promise<void> {
    this.#usable();
    const { dying } = this.#damage;
    if (dying !== undefined) {
      const rows = dying(this.#rows, this.#sources);
      this.#counts.stored += this.#store.commit(() => this.#store.addReadings(rows, Date.now())).stored;
    }
    // They come again, and are counted then.
    this.#counts.messages -= this.#unacked.length;
    this.#dropBatch();
    this.#down = true;
    await this.#subscriber?.abort();
  }

  async resume(): Promise<void> {
    this.#usable();
    this.#damage = this.#makeDamage();
    this.#down = false;
    await this.#connect(false);
  }

  #take(arrived: Arrival): void {
    // After a failure nothing is taken, and so nothing acknowledged: the broker keeps it.
    if (this.#failure !== undefined || this.#closed || this.#down) return;
    this.#counts.messages += 1;
    const message = this.#damage.message === undefined ? arrived : this.#damage.message(arrived);
    if (message === undefined) return;
    this.#unacked.push(message);
    const route = this.#routes.find(({ filter }) => topicMatches(filter, message.topic));
    if (message.retained) this.#counts.retainedIgnored += 1;
    else if (route?.decode == null) this.#counts.statusIgnored += 1;
    else this.#read(message, route.decode);
    if (this.#rows.length >= this.#batch.rows || this.#unacked.length >= this.#batch.rows) this.#commit();
    else if (this.#batch.ms > 0) this.#timer ??= setTimeout(() => this.#commit(), this.#batch.ms);
  }

  #read(message: Arrival, decode: Decode): void {
    let readings: readonly WireReading[];
    try {
      readings = decode(message.payload);
      if (this.#damage.readings !== undefined) readings = this.#damage.readings(readings, message);
    } catch (error) {
      return this.#refuse(message, error instanceof Error ? error.message : String(error));
    }
    if (readings.length === 0 && this.#damage.readings === undefined) {
      return this.#refuse(message, 'the payload holds no reading');
    }
    for (const [i, reading] of readings.entries()) {
      const row = rowOf(reading);
      if (typeof row === 'string') {
        this.#refuse(message, readings.length === 1 ? row : `reading ${i + 1} of ${readings.length}: ${row}`);
      } else {
        this.#collect(row, message);
      }
    }
  }

  #collect(sound: Row, message: Arrival): void {
    const row = this.#damage.row === undefined ? sound : this.#damage.row(sound, message);
    if (row === undefined) return;
    this.#rows.push(row);
    this.#sources.push(message);
  }

  #refuse({ topic, payload }: Arrival, reason: string): void {
    this.#rejects.push({ reason, topic, payload });
  }

  /** Stores the batch, then acknowledges its messages in the order in which they came (4.6.0-2). */
  #commit(): void {
    if (this.#unacked.length === 0 || this.#failure !== undefined) return;
    try {
      if (this.#rows.length > 0 || this.#rejects.length > 0) this.#storeBatch();
    } catch (error) {
      this.#failure = new NotCompleted(`store ${this.#storeFile}: ${(error as Error).message}`);
      void this.#subscriber?.close();
      return;
    }
    const acked = this.#unacked;
    this.#dropBatch();
    for (const message of acked) message.ack();
  }

  #dropBatch(): void {
    clearTimeout(this.#timer);
    this.#timer = undefined;
    this.#unacked = [];
    this.#rows = [];
    this.#sources = [];
    this.#rejects = [];
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
    return await exportReadings(this.#storeFile, query, this.#damage);
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
