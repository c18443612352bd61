// An MQTT 3.1.1 subscriber that acknowledges late: only once the caller has stored the message for good.
//
// MQTT.js hands out one message at a time and waits for its ack, so that an ack after a commit would mean one
// commit a message; and at QoS 2 it sends PUBREC, after which the broker forgets the message, before the
// message reaches the application. Hence this small client over mqtt-packet, MQTT.js's own parser and writer.
// Clause numbers are those of OASIS MQTT Version 3.1.1.
import { connect as connectTcp, type Socket } from 'node:net';
import mqtt, { type IPublishPacket, type Packet } from 'mqtt-packet';
import { NotCompleted } from '../../sim/index.ts';
import type { BrokerAddress } from './pipeline.ts';

const KEEPALIVE_S = 30;
const CONNECT_TIMEOUT_MS = 10_000;
const FIRST_RETRY_MS = 100;
const LAST_RETRY_MS = 5000;

/** CONNACK return codes (3.2.2.3, Table 3.1). */
const REFUSALS = [
  'accepted',
  'unacceptable protocol version',
  'identifier rejected',
  'server unavailable',
  'bad user name or password',
  'not authorized',
];

export interface Arrival {
  readonly topic: string;
  readonly payload: Uint8Array;
  /** A stored copy that the broker sent because we subscribed (3.3.1-8). */
  readonly retained: boolean;
  /** Acknowledges. Does nothing once the connection that the message came over is gone: the broker sends it again. */
  ack(): void;
}

export interface SubscriberEvents {
  onMessage(message: Arrival): void;
  /** All messages that came together have been handed over. */
  onPause(): void;
}

export class Subscriber {
  reconnects = 0;
  readonly #broker: BrokerAddress;
  readonly #filters: readonly string[];
  readonly #events: SubscriberEvents;
  readonly #clean: boolean;
  #socket: Socket | undefined;
  #closing = false;
  #retry: NodeJS.Timeout | undefined;
  #retryMs = FIRST_RETRY_MS;

  private constructor(
    broker: BrokerAddress,
    filters: readonly string[],
    events: SubscriberEvents,
    clean: boolean,
  ) {
    this.#broker = broker;
    this.#filters = filters;
    this.#events = events;
    this.#clean = clean;
  }

  /**
   * Connects and subscribes. Rejects with NotCompleted where the broker can't be reached or refuses.
   * `clean`: the broker keeps nothing while we are away. `anew`: subscribes where the broker kept a session, too.
   */
  static async start(
    broker: BrokerAddress,
    filters: readonly string[],
    events: SubscriberEvents,
    { clean, anew }: { readonly clean: boolean; readonly anew: boolean },
  ): Promise<Subscriber> {
    const subscriber = new Subscriber(broker, filters, events, clean);
    await subscriber.#connect(anew);
    return subscriber;
  }

  /** One connection, up to the point where messages flow. Afterwards it mends itself until close(). */
  #connect(subscribeAnyway: boolean): Promise<void> {
    const { host, port, username, password, clientId } = this.#broker;
    const where = `broker ${host}:${port}`;
    const { promise, resolve, reject } = withResolvers();
    const socket = connectTcp({ host, port, noDelay: true });
    this.#socket = socket;
    let ready = false;
    let why = 'the connection was closed';
    let ping: NodeJS.Timeout | undefined;
    let answered = true;
    const timeout = setTimeout(() => {
      why = 'no answer in time';
      socket.destroy();
    }, CONNECT_TIMEOUT_MS);
    const send = (packet: Packet): void => {
      if (socket.writable) socket.write(mqtt.generate(packet));
    };
    let gathering = false;
    /** The acks of a batch leave in one write. */
    const gather = (packet: Packet): void => {
      if (!gathering) {
        gathering = true;
        socket.cork();
        process.nextTick(() => {
          gathering = false;
          socket.uncork();
        });
      }
      send(packet);
    };
    const fail = (reason: string): void => {
      why = reason;
      socket.destroy();
    };
    const up = (): void => {
      ready = true;
      clearTimeout(timeout);
      this.#retryMs = FIRST_RETRY_MS;
      ping = setInterval(() => {
        // A half-open connection answers no ping: give it up, or messages would stay away for ever.
        if (!answered) return fail('no answer to a ping');
        answered = false;
        send({ cmd: 'pingreq' });
      }, KEEPALIVE_S * 500);
      resolve();
    };
    const parser = mqtt.parser({ protocolVersion: 4 });
    parser.on('error', (error: Error) => fail(error.message));
    parser.on('packet', (packet: Packet) => {
      switch (packet.cmd) {
        case 'connack':
          if (packet.returnCode !== 0) {
            return fail(`refused: ${REFUSALS[packet.returnCode ?? -1] ?? `code ${packet.returnCode}`}`);
          }
          // A kept session keeps its subscriptions; asking again would bring all retained copies again.
          if (this.#filters.length === 0 || (packet.sessionPresent && !subscribeAnyway)) return up();
          return send({
            cmd: 'subscribe',
            messageId: 1,
            subscriptions: this.#filters.map((topic) => ({ topic, qos: 2 as const })),
          });
        case 'suback': {
          const refused = packet.granted.findIndex((code) => typeof code === 'number' && code >= 0x80);
          return refused >= 0 ? fail(`subscription to ${this.#filters[refused]} refused`) : up();
        }
        case 'publish':
          return this.#deliver(packet, gather);
        case 'pubrel':
          // By now the message is stored, and its PUBREC sent (4.3.3).
          return gather({ cmd: 'pubcomp', messageId: packet.messageId ?? 0 });
        case 'pingresp':
          answered = true;
          return;
        default:
          return;
      }
    });
    socket.on('connect', () => {
      send({
        cmd: 'connect',
        protocolId: 'MQTT',
        protocolVersion: 4,
        clean: this.#clean,
        clientId,
        keepalive: KEEPALIVE_S,
        ...(username === null ? {} : { username }),
        ...(password === null ? {} : { password: Buffer.from(password) }),
      });
    });
    socket.on('data', (chunk: Buffer) => {
      parser.parse(chunk);
      this.#events.onPause();
    });
    socket.on('error', (error) => {
      why = error.message;
    });
    socket.on('close', () => {
      clearTimeout(timeout);
      clearInterval(ping);
      if (ready && !this.#closing) this.#later();
      reject(new NotCompleted(`${where}: ${why}`));
    });
    return promise;
  }

  #deliver(packet: IPublishPacket, send: (packet: Packet) => void): void {
    const { qos, messageId = 0 } = packet;
    this.#events.onMessage({
      topic: packet.topic,
      payload: typeof packet.payload === 'string' ? Buffer.from(packet.payload) : packet.payload,
      retained: packet.retain,
      ack: () => {
        if (qos === 1) send({ cmd: 'puback', messageId });
        if (qos === 2) send({ cmd: 'pubrec', messageId });
      },
    });
  }

  #later(): void {
    this.#retry = setTimeout(() => {
      this.reconnects += 1;
      this.#connect(false).catch(() => {
        if (!this.#closing) this.#later();
      });
    }, this.#retryMs);
    this.#retryMs = Math.min(this.#retryMs * 2, LAST_RETRY_MS);
  }

  /** Ends the connection as a crash does, without DISCONNECT. Nothing that came over it can be acknowledged any more. */
  async abort(): Promise<void> {
    await this.#end((socket) => socket.resetAndDestroy());
  }

  /** Disconnects in good order (3.14); the broker keeps the session. */
  async close(): Promise<void> {
    await this.#end((socket) => socket.end(mqtt.generate({ cmd: 'disconnect' }), () => socket.destroy()));
  }

  /** Ends the connection by `how`, for good, and waits until it is closed. */
  async #end(how: (socket: Socket) => void): Promise<void> {
    this.#closing = true;
    clearTimeout(this.#retry);
    const socket = this.#socket;
    if (socket === undefined || socket.destroyed) return;
    const { promise, resolve } = withResolvers();
    socket.once('close', resolve);
    how(socket);
    await promise;
  }
}

function withResolvers(): {
  promise: Promise<void>;
  resolve: () => void;
  reject: (error: Error) => void;
} {
  let resolve: () => void = () => {};
  let reject: (error: Error) => void = () => {};
  const promise = new Promise<void>((ok, no) => {
    resolve = ok;
    reject = no;
  });
  return { promise, resolve, reject };
}
