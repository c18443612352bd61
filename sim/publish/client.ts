// One tracker's MQTT 3.1.1 session over its own TCP connection: publishes, and nothing else.
// Thin, because thousands run in one process: no timer, closure or copy per message.
// Clause numbers are those of OASIS MQTT Version 3.1.1.
import type { DropHow, Qos } from '../scenario/scenario.ts';
import type { LinkState, TrackerClientListener, TrackerClientOptions } from './client-options.ts';
import { InFlight, type Flight } from './in-flight.ts';
import { Link, type LinkOwner } from './link.ts';
import { connackWords, PUBACK, PUBCOMP, PUBREC, topicBytes } from './packets.ts';

/** So often is a message tried alone before it counts as refused. */
const TRIES_ALONE = 3;
const SERVER_UNAVAILABLE = 3;

export class TrackerClient implements LinkOwner {
  readonly #options: TrackerClientOptions;
  readonly #listener: TrackerClientListener;
  readonly #flights = new InFlight();
  readonly #silent: Link[] = [];
  /** Links that sent DISCONNECT and wait for the broker to close its side. */
  readonly #ending = new Set<Promise<void>>();
  #state: LinkState = 'idle';
  #link: Link | undefined;
  #backOffTimer: NodeJS.Timeout | undefined;
  #backOffMs: number;
  #roomWanted = false;
  /** Messages of a former connection that are still to be sent again, in their order. */
  #backlog: Flight[] = [];
  /** Connections in a row that the broker closed with something outstanding and nothing acknowledged. */
  #fruitless = 0;
  #ackedHere = false;
  #topic = '';
  #topicBytes: Buffer = Buffer.alloc(0);

  constructor(options: TrackerClientOptions, listener: TrackerClientListener) {
    this.#options = options;
    this.#listener = listener;
    this.#backOffMs = options.backOffFirstMs;
  }

  get state(): LinkState {
    return this.#state;
  }

  /** Messages of QoS 1 and 2 that the broker hasn't acknowledged to the end. */
  get unacked(): number {
    return this.#flights.size;
  }

  /** Opens the session, and keeps it open until `drop` or `close`. */
  connect(): void {
    if (this.#state !== 'idle' && this.#state !== 'silent') return;
    this.#backOffMs = this.#options.backOffFirstMs;
    this.#open();
  }

  #open(): void {
    this.#state = 'connecting';
    this.#link = new Link(this.#options, this);
  }

  /**
   * Sends emission `n`. False when there's no room: not connected, window full, or the socket is.
   * Then `listener.room` is called once there is. BadInput for a topic or size that MQTT can't carry.
   */
  publish(
    n: number,
    topic: string,
    payload: Uint8Array,
    qos: Qos,
    retain: boolean,
    intendedMs: number,
  ): boolean {
    const link = this.#link;
    if (
      this.#state !== 'connected' ||
      !link ||
      link.choked ||
      this.#backlog.length > 0 ||
      (qos > 0 && this.#flights.size >= this.#options.inFlight)
    ) {
      this.#roomWanted = true;
      return false;
    }
    if (topic !== this.#topic) {
      this.#topicBytes = topicBytes(topic);
      this.#topic = topic;
    }
    const bytes = this.#topicBytes;
    let packetId = 0;
    if (qos > 0) {
      const flight: Flight = {
        n,
        topic: bytes,
        payload,
        qos: qos === 1 ? 1 : 2,
        retain,
        intendedMs,
        packetId,
        released: false,
      };
      this.#flights.add(flight);
      packetId = flight.packetId;
    }
    link.publish(bytes, payload, qos, retain, false, packetId);
    return true;
  }

  /** Ends the link as the scenario says. What is unacknowledged is sent again after the next `connect`. */
  drop(how: DropHow): void {
    const link = this.#link;
    const connected = this.#state === 'connected';
    this.#forgetLink();
    this.#state = 'idle';
    if (!link) return;
    if (!connected || how === 'reset') link.reset();
    else if (how === 'half-open') {
      this.#state = 'silent';
      link.fallSilent();
      this.#silent.push(link);
    } else {
      const ended = link.end();
      this.#ending.add(ended);
      void ended.finally(() => this.#ending.delete(ended));
    }
  }

  /** Ends for good: DISCONNECT where there's a link. Resolves when the broker has closed its side, or time is up. */
  async close(): Promise<void> {
    if (this.#link) this.drop('clean');
    this.#forgetLink();
    this.#state = 'closed';
    this.#endSilent();
    await Promise.all(this.#ending);
  }

  #forgetLink(): void {
    clearTimeout(this.#backOffTimer);
    this.#link = undefined;
    this.#backlog = [];
  }

  #endSilent(): void {
    for (const link of this.#silent.splice(0)) link.reset();
  }

  /** For the link. */
  connack(sessionPresent: boolean, code: number): void {
    const link = this.#link;
    if (this.#state !== 'connecting' || !link) return;
    if (code === SERVER_UNAVAILABLE) {
      // Worth another try.
      link.fail(`${connackWords(code)} (CONNACK ${code})`);
      return;
    }
    if (code !== 0) {
      this.drop('reset');
      this.#listener.turnedAway(code);
      return;
    }
    link.accepted();
    this.#state = 'connected';
    this.#ackedHere = false;
    if (this.#fruitless === 0) this.#backOffMs = this.#options.backOffFirstMs;
    // The broker has taken the session over by now and published the will; the silent link has served.
    this.#endSilent();
    // [MQTT-4.4.0-1]: unacknowledged PUBLISH and PUBREL again, with their packet ids, in their order [4.6.0-1].
    // A clean session has no memory of them: there the messages are sent as new ones, QoS 2 from its start.
    if (this.#options.cleanSession) this.#flights.renumber();
    this.#backlog = [...this.#flights];
    // After a fruitless connection the first message goes alone, to learn whether it's the culprit.
    this.#sendBacklog(link, this.#fruitless === 0 ? this.#backlog.length : 1);
    this.#listener.connected(sessionPresent);
  }

  #sendBacklog(link: Link, count: number): void {
    for (const flight of this.#backlog.splice(0, count)) {
      const { topic, payload, qos, retain, packetId } = flight;
      // DUP only where the session went on [MQTT-3.3.1-1].
      if (flight.released) link.pubrel(packetId);
      else link.publish(topic, payload, qos, retain, !this.#options.cleanSession, packetId);
      this.#listener.sentAgain(flight.n);
    }
  }

  /** For the link. */
  ack(type: number, packetId: number): void {
    if (this.#state !== 'connected') return;
    const flight = this.#flights.get(packetId);
    if (type === PUBREC) {
      // 4.3.3: from now on PUBREL, never PUBLISH. Also for an id that is done, or the broker would wait for ever.
      if (flight?.qos === 2) {
        flight.released = true;
        this.#progress();
      }
      this.#link?.pubrel(packetId);
      return;
    }
    const ends =
      (type === PUBACK && flight?.qos === 1) || (type === PUBCOMP && flight?.qos === 2 && flight.released);
    if (!flight || !ends) return;
    this.#flights.delete(packetId);
    this.#progress();
    this.#listener.acked(flight.n, flight.intendedMs);
  }

  #progress(): void {
    this.#ackedHere = true;
    this.#fruitless = 0;
  }

  /** For the link. */
  pingResponse(): void {
    this.#link?.pingAnswered();
  }

  /** For the link. */
  readDone(): void {
    const held = this.#backlog.length;
    if (held > 0 && this.#ackedHere && this.#link) this.#sendBacklog(this.#link, held);
    this.#tellRoom();
  }

  /** For the link. */
  drained(): void {
    this.#tellRoom();
  }

  #tellRoom(): void {
    if (!this.#roomWanted || this.#state !== 'connected') return;
    if (this.#link?.choked || this.#backlog.length > 0) return;
    // Half a window at a time, not message by message: fewer and larger writes, reads and acknowledgements.
    if (this.#flights.size > this.#options.inFlight >> 1) return;
    this.#roomWanted = false;
    this.#listener.room();
  }

  /** For the link. */
  closed(why: string): void {
    const wasConnected = this.#state === 'connected';
    // One message was sent, and the rest held back.
    const alone = this.#backlog.length === this.#flights.size - 1;
    this.#forgetLink();
    this.#state = 'waiting';
    if (wasConnected && this.#flights.size > 0 && !this.#ackedHere) {
      if (alone || this.#fruitless === 0) this.#fruitless += 1;
      // 3.1.1 has no "no" to a PUBLISH: a broker acknowledges or closes [MQTT-3.3.5-2].
      if (this.#fruitless > TRIES_ALONE) this.#giveUpFirst();
    }
    const waitMs = this.#backOffMs;
    this.#backOffMs = Math.min(this.#options.backOffLastMs, Math.max(1, waitMs * 2));
    this.#backOffTimer = setTimeout(() => {
      if (this.#state === 'waiting') this.#open();
    }, waitMs);
    this.#listener.lost(why);
  }

  #giveUpFirst(): void {
    const first = this.#flights.shift();
    this.#fruitless = 0;
    if (first) this.#listener.refused(first.n);
  }
}
