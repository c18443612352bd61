// Publishes a whole fleet's steps over real connections: as fast as the broker takes them, or paced.
// Memory is bounded: steps are taken only while few wait and few are unacknowledged.
import { NotCompleted } from '../errors.ts';
import type { DelaySummary } from './delay.ts';
import type { TrackerClientOptions } from './client-options.ts';
import { Lane, type FleetStep, type Traffic } from './lane.ts';
import type { Ledger, LedgerTotals } from './ledger.ts';
import { connackWords } from './packets.ts';

export interface Progress {
  readonly virtualMs: number;
  readonly emissions: number;
  readonly acked: number;
  readonly connected: number;
}

/** `full`: as fast as the broker takes it. `times` 1: real time; open loop, so a slow broker delays no later step's due time. */
export type Pace = 'full' | { readonly times: number };

export interface PublishOptions {
  readonly steps: Iterable<FleetStep>;
  readonly target: { readonly host: string; readonly port: number };
  readonly clientFor: (tracker: number) => Omit<TrackerClientOptions, 'host' | 'port'>;
  readonly pace: Pace;
  /** Stays open: closing it is the caller's. */
  readonly ledger: Ledger;
  /** Virtual time of the start, Unix ms. */
  readonly startMs: number;
  /** How long nothing may go on before the wait is given up. */
  readonly drainTimeoutMs: number;
  readonly onProgress?: (progress: Progress) => void;
  readonly signal?: AbortSignal;
}

export interface PublishSummary {
  /** Stopped by the signal: what is missing says nothing about the broker. */
  readonly interrupted: boolean;
  readonly emissions: number;
  readonly totals: LedgerTotals;
  readonly delay: DelaySummary;
  readonly connects: number;
  readonly drops: number;
  /** Length of the run in real time. */
  readonly realMs: number;
  /** What was still to come at the end, in words. A link that the scenario dropped for good owes nothing. */
  readonly pending: readonly string[];
}

/** Most steps that wait and messages that are unacknowledged, over all trackers. */
const MAX_LOAD = 4096;
/** Most connections that are being opened at a time: a listening socket's backlog is short. */
const MAX_CONNECTING = 256;
/** Steps taken before the event loop gets its turn. */
const STEPS_A_TURN = 2048;
const PROGRESS_EVERY_MS = 250;
/** Up to so many trackers are named one by one in what is pending. */
const PENDING_NAMED = 3;

/**
 * Publishes all steps and waits for their acknowledgements.
 * NotCompleted when the broker can't be reached, turns a tracker away, or nothing goes on for `drainTimeoutMs`
 * while there are steps left. What the broker owes at the end isn't an error: `pending` says it.
 */
export async function publishFleet(options: PublishOptions): Promise<PublishSummary> {
  return new FleetRun(options).run();
}

class FleetRun implements Traffic {
  readonly #options: PublishOptions;
  readonly ledger: Ledger;
  readonly #lanes = new Map<number, Lane>();
  readonly waitingToConnect = new Set<Lane>();
  readonly maxConnecting = MAX_CONNECTING;
  queued = 0;
  outstanding = 0;
  connecting = 0;
  connected = 0;
  emissions = 0;
  connects = 0;
  drops = 0;
  readonly #startMs: number;
  #virtualMs: number;
  #lastProgressMs: number;
  #lastToldMs = 0;
  #failure: Error | undefined;
  #wake: (() => void) | undefined;
  /** The load at which a sleeping run wants to wake up. */
  #wakeAtLoad = 0;

  constructor(options: PublishOptions) {
    this.#options = options;
    this.ledger = options.ledger;
    this.#virtualMs = options.startMs;
    this.#startMs = this.ledger.nowMs();
    this.#lastProgressMs = this.#startMs;
  }

  async run(): Promise<PublishSummary> {
    const wakeUp = (): void => this.#wake?.();
    this.#options.signal?.addEventListener('abort', wakeUp);
    try {
      await this.#publishAll();
      if (!this.#interrupted) await this.#drain();
      if (this.#failure) throw this.#failure;
      return this.#summary();
    } finally {
      this.#options.signal?.removeEventListener('abort', wakeUp);
      await Promise.all([...this.#lanes.values()].map((lane) => lane.close()));
      await this.ledger.flush();
    }
  }

  get #interrupted(): boolean {
    return this.#options.signal?.aborted === true;
  }

  get #load(): number {
    return this.queued + this.outstanding;
  }

  async #publishAll(): Promise<void> {
    let taken = 0;
    for (const step of this.#options.steps) {
      const dueMs = this.#dueMs(step.event.atMs);
      while (!this.#failure && !this.#interrupted) {
        const waitMs = dueMs === undefined ? 0 : dueMs - this.ledger.nowMs();
        if (waitMs > 0) await this.#sleep(Math.min(waitMs, PROGRESS_EVERY_MS), -1);
        else if (this.#load >= MAX_LOAD) await this.#waitForProgress(MAX_LOAD / 2);
        else if (taken >= STEPS_A_TURN) {
          taken = 0;
          await new Promise((resolve) => setImmediate(resolve));
        } else break;
        this.#tellProgress();
      }
      if (this.#failure || this.#interrupted) return;
      taken += 1;
      this.#virtualMs = step.event.atMs;
      this.#laneOf(step).take(step, dueMs ?? this.ledger.nowMs());
    }
  }

  /** When a step is due on the ledger's clock; undefined at full speed. */
  #dueMs(atMs: number): number | undefined {
    const { pace, startMs } = this.#options;
    return pace === 'full' ? undefined : this.#startMs + (atMs - startMs) / pace.times;
  }

  #laneOf(step: FleetStep): Lane {
    let lane = this.#lanes.get(step.tracker);
    if (!lane) {
      const { clientFor, target } = this.#options;
      lane = new Lane(step.trackerId, { ...clientFor(step.tracker), ...target }, this);
      this.#lanes.set(step.tracker, lane);
    }
    return lane;
  }

  async #drain(): Promise<void> {
    for (const lane of this.#lanes.values()) {
      while (!lane.settled && !this.#failure && !this.#interrupted) {
        if (!(await this.#waitForProgress(0, false))) return;
        this.#tellProgress();
      }
    }
  }

  /** Sleeps until the load is down to `load`; false (or, while steps are left, a failure) when nothing goes on. */
  async #waitForProgress(load: number, stepsLeft = true): Promise<boolean> {
    const { drainTimeoutMs } = this.#options;
    const leftMs = this.#lastProgressMs + drainTimeoutMs - this.ledger.nowMs();
    if (leftMs > 0) {
      await this.#sleep(Math.min(leftMs, PROGRESS_EVERY_MS), load);
      return true;
    }
    if (stepsLeft) {
      const words = this.#pending().join('; ');
      this.#failure = new NotCompleted(`Nothing went on for ${drainTimeoutMs} ms at the broker: ${words}.`);
    }
    return false;
  }

  async #sleep(ms: number, wakeAtLoad: number): Promise<void> {
    this.#wakeAtLoad = wakeAtLoad;
    await new Promise<void>((resolve) => {
      const timer = setTimeout(resolve, ms);
      this.#wake = () => {
        clearTimeout(timer);
        resolve();
      };
    });
    this.#wake = undefined;
    // Time spent waiting for a step's due time is no standstill.
    if (wakeAtLoad < 0 && this.#load === 0) this.progress();
  }

  progress(): void {
    this.#lastProgressMs = this.ledger.nowMs();
    if (this.#load <= this.#wakeAtLoad) this.#wake?.();
  }

  #fail(words: string): void {
    this.failed(new NotCompleted(words));
  }

  failed(error: unknown): void {
    this.#failure ??= error instanceof Error ? error : new Error(String(error));
    this.#wake?.();
  }

  turnedAway(trackerId: string, code: number): void {
    const { host, port } = this.#options.target;
    this.#fail(
      `The broker at ${host}:${port} turned tracker ${trackerId} away: ${connackWords(code)} (CONNACK ${code}).`,
    );
  }

  lost(_trackerId: string, why: string): void {
    // A broker that was never there won't come; one that was may come back.
    if (this.connects > 0) return;
    const { host, port } = this.#options.target;
    this.#fail(`No broker could be reached at ${host}:${port}: ${why}. Start it, or give another address.`);
  }

  #tellProgress(): void {
    const nowMs = this.ledger.nowMs();
    if (nowMs - this.#lastToldMs < PROGRESS_EVERY_MS) return;
    this.#lastToldMs = nowMs;
    this.#options.onProgress?.({
      virtualMs: this.#virtualMs,
      emissions: this.emissions,
      acked: this.ledger.totals.acked,
      connected: this.connected,
    });
  }

  /** A few trackers are named; of many, the sums are told. */
  #pending(): string[] {
    const open = [...this.#lanes.values()].filter((lane) => !lane.settled);
    if (open.length > PENDING_NAMED) {
      const unacked = open.reduce((sum, lane) => sum + lane.client.unacked, 0);
      const queued = open.reduce((sum, lane) => sum + lane.queued, 0);
      return [
        `${counted(unacked, 'emission')} unacked and ${counted(queued, 'step')} not begun of ${open.length} trackers`,
      ];
    }
    return open.flatMap((lane) => [
      ...(lane.client.unacked > 0
        ? [`${counted(lane.client.unacked, 'emission')} unacked by tracker ${lane.id}`]
        : []),
      ...(lane.queued > 0 ? [`${counted(lane.queued, 'step')} not begun of tracker ${lane.id}`] : []),
    ]);
  }

  #summary(): PublishSummary {
    return {
      interrupted: this.#interrupted,
      emissions: this.emissions,
      totals: { ...this.ledger.totals },
      delay: this.ledger.delay.summary(),
      connects: this.connects,
      drops: this.drops,
      realMs: Math.round(this.ledger.nowMs() - this.#startMs),
      pending: this.#pending(),
    };
  }
}

function counted(count: number, noun: string): string {
  return `${count} ${noun}${count === 1 ? '' : 's'}`;
}
