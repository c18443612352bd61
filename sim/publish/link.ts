// One TCP connection of a client to its broker: bytes out in batches, packets in, keep alive.
import { connect as connectTcp, type Socket } from 'node:net';
import { generate } from 'mqtt-packet';
import type { Qos } from '../scenario/scenario.ts';
import { Batch } from './batch.ts';
import type { TrackerClientOptions } from './client-options.ts';
import {
  AckReader,
  DISCONNECT_BYTES,
  PINGREQ_BYTES,
  PUBREL_SIZE,
  publishSize,
  writePublish,
  writePubrel,
  type AckSink,
} from './packets.ts';
import { sharedWheel, TICK_MS, type Beat } from './timer-wheel.ts';

/** Whoever holds the link. Told nothing more after `leave`. */
export interface LinkOwner extends AckSink {
  /** All packets of one read were handed over. */
  readDone(): void;
  /** The socket has taken what was waiting in it. */
  drained(): void;
  closed(why: string): void;
}

/** Bytes that may wait in a socket before QoS 0, which has no window, has no room. */
const CHOKE_BYTES = 64 * 1024;
/** Acknowledgements are four bytes; what doesn't fit comes with the next read. */
const READ_BYTES = 512;
const CLOSE_WAIT_MS = 2000;

export class Link implements Beat {
  readonly #socket: Socket;
  readonly #batch: Batch;
  readonly #reader = new AckReader();
  readonly #connectTimer: NodeJS.Timeout;
  readonly #keepAliveTicks: number;
  #owner: LinkOwner | undefined;
  #silent = false;
  #choked = false;
  #lastError = '';
  #lastSentTick = 0;
  #pingOut = false;
  /** For the timer wheel. */
  dueTick = 0;

  /** Connects, and sends CONNECT. */
  constructor(options: TrackerClientOptions, owner: LinkOwner) {
    const { host, port, localAddress, connectTimeoutMs, keepAliveS } = options;
    this.#owner = owner;
    // Three quarters of the keep alive, so that a late tick stays inside it [MQTT-3.1.2-23].
    this.#keepAliveTicks = Math.floor((keepAliveS * 750) / TICK_MS);
    // Read into one small buffer of this socket's own, instead of a new one per read.
    this.#socket = connectTcp({
      host,
      port,
      noDelay: true,
      ...(localAddress === undefined ? {} : { localAddress }),
      onread: {
        buffer: Buffer.allocUnsafe(READ_BYTES),
        callback: (size, bytes) => this.#read(size, bytes),
      },
    });
    this.#batch = new Batch(this.#socket);
    this.#socket.once('connect', () => {
      if (this.#owner) this.#socket.write(connectBytes(options));
    });
    this.#socket.on('drain', () => {
      this.#choked = false;
      this.#owner?.drained();
    });
    this.#socket.on('error', (error) => (this.#lastError = error.message));
    this.#socket.on('close', () => this.#closed());
    this.#connectTimer = setTimeout(() => {
      this.fail(`no CONNACK within ${connectTimeoutMs} ms`);
    }, connectTimeoutMs);
  }

  /** So much waits in the socket that QoS 0 should wait too. */
  get choked(): boolean {
    return this.#choked;
  }

  /** CONNACK came. */
  accepted(): void {
    clearTimeout(this.#connectTimer);
    this.#lastSentTick = sharedWheel.tick;
    if (this.#keepAliveTicks > 0) sharedWheel.schedule(this, this.#keepAliveTicks);
  }

  pingAnswered(): void {
    this.#pingOut = false;
  }

  #read(size: number, bytes: Uint8Array): boolean {
    const owner = this.#owner;
    // Nobody listens any more. Reading goes on, to hear the broker close its side; but not on a silent link.
    if (!owner) return !this.#silent;
    if (this.#reader.read(bytes, size, owner)) owner.readDone();
    else this.fail('the broker sent bytes that aren’t MQTT 3.1.1'); // [MQTT-4.8.0-1]
    return !this.#silent;
  }

  publish(
    topic: Uint8Array,
    payload: Uint8Array,
    qos: Qos,
    retain: boolean,
    dup: boolean,
    packetId: number,
  ): void {
    const size = publishSize(topic, payload, qos);
    const batch = this.#batch;
    if (batch.reserve(size)) {
      batch.commit(writePublish(batch.bytes, batch.used, topic, payload, qos, retain, dup, packetId));
    } else {
      const bytes = Buffer.allocUnsafe(size);
      writePublish(bytes, 0, topic, payload, qos, retain, dup, packetId);
      batch.writeLarge(bytes);
    }
    this.#wrote();
  }

  pubrel(packetId: number): void {
    this.#batch.reserve(PUBREL_SIZE);
    this.#batch.commit(writePubrel(this.#batch.bytes, this.#batch.used, packetId));
    this.#wrote();
  }

  #wrote(): void {
    this.#lastSentTick = sharedWheel.tick;
    if (this.#socket.writableLength > CHOKE_BYTES) this.#choked = true;
  }

  /** For the timer wheel. */
  beat(): void {
    if (!this.#owner) return;
    if (this.#pingOut) {
      // 3.1.2.10: no PINGRESP within a reasonable time, so the link is dead.
      this.fail('the broker didn’t answer a PINGREQ');
      return;
    }
    if (sharedWheel.tick - this.#lastSentTick >= this.#keepAliveTicks) {
      this.#pingOut = true;
      this.#lastSentTick = sharedWheel.tick;
      this.#socket.write(PINGREQ_BYTES);
    }
    sharedWheel.schedule(this, this.#keepAliveTicks - (sharedWheel.tick - this.#lastSentTick));
  }

  /** Closes because of trouble; the owner is told why. */
  fail(why: string): void {
    this.#socket.destroy(new Error(why));
  }

  #closed(): void {
    const owner = this.#owner;
    this.#leave();
    owner?.closed(this.#lastError || 'the broker closed the connection');
  }

  /** The owner lets go: it's told nothing more, and what it has written still goes out. */
  #leave(): void {
    this.#owner = undefined;
    clearTimeout(this.#connectTimer);
    sharedWheel.cancel(this);
    this.#batch.flush();
  }

  /** DISCONNECT, then the end: 3.14.4, and the will is dropped [MQTT-3.14.4-3]. Resolves when the socket is closed. */
  async end(): Promise<void> {
    this.#leave();
    // A broker that doesn't close its side after DISCONNECT isn't waited for.
    const timer = setTimeout(() => this.#socket.destroy(), CLOSE_WAIT_MS);
    const closed = new Promise((resolve) => this.#socket.once('close', resolve));
    this.#socket.end(DISCONNECT_BYTES);
    await closed;
    clearTimeout(timer);
  }

  /** A TCP reset. */
  reset(): void {
    this.#leave();
    if (this.#socket.connecting) this.#socket.destroy();
    else this.#socket.resetAndDestroy();
  }

  /** No FIN, no reset, no reading: the broker is left to find out. */
  fallSilent(): void {
    this.#leave();
    this.#silent = true;
    this.#socket.pause();
  }
}

function connectBytes(options: TrackerClientOptions): Buffer {
  const { clientId, username, password, keepAliveS, cleanSession, will } = options;
  return generate({
    cmd: 'connect',
    protocolId: 'MQTT',
    protocolVersion: 4,
    clientId,
    clean: cleanSession,
    keepalive: keepAliveS,
    ...(username === undefined ? {} : { username }),
    ...(password === undefined ? {} : { password: Buffer.from(password, 'utf8') }),
    ...(will === undefined ? {} : { will: { ...will, payload: Buffer.from(will.payload) } }),
  });
}
