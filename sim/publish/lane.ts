// One tracker's steps, done strictly in their order: connect, publish …, drop.
import type { Connect, Disconnect, Emission } from '../tracker/event.ts';
import type { TrackerClientListener, TrackerClientOptions } from './client-options.ts';
import { TrackerClient } from './client.ts';
import type { Ledger, TrackerLedger } from './ledger.ts';
import { connackWords } from './packets.ts';

/** One thing a tracker does, as its model says. Steps come in order of virtual time. */
export interface FleetStep {
  /** Index in the fleet. */
  readonly tracker: number;
  readonly trackerId: string;
  readonly event: Connect | Disconnect | Emission;
  /** The emission's bytes. */
  readonly payload: Uint8Array | undefined;
}

/** What all lanes of a fleet share. */
export interface Traffic {
  readonly ledger: Ledger;
  /** Steps that wait in lanes. */
  queued: number;
  /** Messages of QoS 1 and 2 that wait for their acknowledgement, on links that are wanted. */
  outstanding: number;
  /** Clients that wait for CONNACK, and lanes that wait for their turn to connect. */
  connecting: number;
  readonly waitingToConnect: Set<Lane>;
  readonly maxConnecting: number;
  connected: number;
  /** Emissions done with: sent, as far as `publish` goes. */
  emissions: number;
  connects: number;
  drops: number;
  /** Something went on. */
  progress(): void;
  /** A step can't be done, such as a topic that MQTT can't carry. */
  failed(error: unknown): void;
  turnedAway(trackerId: string, code: number): void;
  lost(trackerId: string, why: string): void;
}

interface Waiting {
  readonly step: FleetStep;
  readonly intendedMs: number;
}

export class Lane implements TrackerClientListener {
  readonly id: string;
  readonly client: TrackerClient;
  readonly #ledger: TrackerLedger;
  readonly #traffic: Traffic;
  #queue: Waiting[] = [];
  #head = 0;
  #counted: 'none' | 'connecting' | 'connected' = 'none';

  constructor(id: string, options: TrackerClientOptions, traffic: Traffic) {
    this.id = id;
    this.#traffic = traffic;
    this.#ledger = traffic.ledger.tracker(id);
    this.client = new TrackerClient(options, this);
  }

  get queued(): number {
    return this.#queue.length - this.#head;
  }

  /** Nothing left to do. What is unacknowledged on a link that was dropped for good isn't waited for. */
  get settled(): boolean {
    return this.queued === 0 && (this.client.unacked === 0 || !this.#wanted);
  }

  get #wanted(): boolean {
    const { state } = this.client;
    return state === 'connecting' || state === 'connected' || state === 'waiting';
  }

  /** Does the step now, or when the ones before it are done. `intendedMs`: when it was due, on the ledger's clock. */
  take(step: FleetStep, intendedMs: number): void {
    if (this.queued === 0 && this.#try(step, intendedMs)) return;
    this.#queue.push({ step, intendedMs });
    this.#traffic.queued += 1;
  }

  /** Goes on as far as possible. Called from sockets' events, where nobody could catch an error. */
  advance(): void {
    try {
      this.#advance();
    } catch (error) {
      this.#queue = [];
      this.#traffic.failed(error);
    }
  }

  #advance(): void {
    for (let next = this.#queue[this.#head]; next; next = this.#queue[this.#head]) {
      if (!this.#try(next.step, next.intendedMs)) return;
      this.#head += 1;
      this.#traffic.queued -= 1;
      this.#traffic.progress();
    }
    this.#queue = [];
    this.#head = 0;
  }

  #try(step: FleetStep, intendedMs: number): boolean {
    const { event } = step;
    switch (event.kind) {
      case 'connect':
        return this.#connect();
      case 'disconnect':
        return this.#drop(event);
      case 'emission':
        return this.#publish(event, step.payload, intendedMs);
    }
  }

  #connect(): boolean {
    if (this.#wanted) return true;
    if (this.#traffic.connecting >= this.#traffic.maxConnecting) {
      this.#traffic.waitingToConnect.add(this);
      return false;
    }
    this.#count('connecting');
    this.#traffic.outstanding += this.client.unacked;
    this.client.connect();
    return true;
  }

  #publish(event: Emission, payload: Uint8Array | undefined, intendedMs: number): boolean {
    if (!payload) throw new Error(`emission ${event.n} of tracker ${this.id} came without its bytes`);
    if (!this.#wanted) throw new Error(`emission ${event.n} of tracker ${this.id} came without a connect`);
    const { n, topic, qos, retain } = event;
    if (!this.client.publish(n, topic, payload, qos, retain, intendedMs)) return false;
    this.#ledger.attempted(n, this.#traffic.ledger.nowMs(), qos > 0);
    this.#traffic.emissions += 1;
    if (qos > 0) this.#traffic.outstanding += 1;
    return true;
  }

  #drop({ how }: Disconnect): boolean {
    if (!this.#wanted) return true;
    // A link breaks after it was there; and a clean end waits for what is still unacknowledged.
    if (this.client.state !== 'connected') return false;
    if (how === 'clean' && this.client.unacked > 0) return false;
    this.client.drop(how);
    // Nobody acknowledges these before the next connect, so they mustn't hold up the fleet.
    this.#traffic.outstanding -= this.client.unacked;
    this.#traffic.drops += 1;
    this.#traffic.ledger.link(this.id, 'drop', how);
    this.#count('none');
    return true;
  }

  #count(now: 'none' | 'connecting' | 'connected'): void {
    const before = this.#counted;
    if (before === now) return;
    this.#counted = now;
    const traffic = this.#traffic;
    if (before === 'connected') traffic.connected -= 1;
    if (now === 'connected') traffic.connected += 1;
    if (now === 'connecting') traffic.connecting += 1;
    if (before !== 'connecting') return;
    traffic.connecting -= 1;
    for (const lane of traffic.waitingToConnect) {
      traffic.waitingToConnect.delete(lane);
      // Not from inside this lane's own step.
      queueMicrotask(() => lane.advance());
      break;
    }
  }

  /** Ends for good. */
  async close(): Promise<void> {
    this.#queue = [];
    this.#head = 0;
    if (this.client.state === 'connected') this.#traffic.ledger.link(this.id, 'drop', 'clean');
    this.#count('none');
    await this.client.close();
  }

  connected(): void {
    this.#traffic.connects += 1;
    this.#traffic.ledger.link(this.id, 'connect');
    this.#count('connected');
    this.#traffic.progress();
    // After the client has sent the old messages again: they come first.
    queueMicrotask(() => this.advance());
  }

  lost(why: string): void {
    this.#traffic.ledger.link(this.id, 'lost', why);
    this.#count('none');
    this.#traffic.lost(this.id, why);
  }

  turnedAway(code: number): void {
    this.#traffic.ledger.link(this.id, 'refused', `CONNACK ${code}: ${connackWords(code)}`);
    this.#count('none');
    this.#traffic.turnedAway(this.id, code);
  }

  acked(n: number, intendedMs: number): void {
    const nowMs = this.#traffic.ledger.nowMs();
    this.#ledger.acked(n, nowMs, nowMs - intendedMs);
    this.#done();
  }

  refused(n: number): void {
    this.#ledger.refused(n);
    this.#done();
  }

  #done(): void {
    this.#traffic.outstanding -= 1;
    this.#traffic.progress();
    // A clean end may have waited for this one.
    if (this.client.unacked === 0 && this.queued > 0) queueMicrotask(() => this.advance());
  }

  sentAgain(n: number): void {
    this.#ledger.sentAgain(n);
  }

  room(): void {
    this.advance();
  }
}
