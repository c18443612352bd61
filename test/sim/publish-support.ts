// For tests of the publisher: a listener that can be waited for, and a scripted MQTT server on a real socket.
import { createServer, type AddressInfo, type Socket } from 'node:net';
import { generate, parser, type Packet } from 'mqtt-packet';
import { connectAsync, type IPublishPacket, type MqttClient } from 'mqtt';
import type { Broker } from '../../sim/broker/embedded.ts';
import type { TrackerClientListener, TrackerClientOptions } from '../../sim/publish/client-options.ts';

/** Something that happens now and then, and can be waited for without sleeping. */
export class Happenings {
  #waiting: (() => void)[] = [];

  happened(): void {
    const waiting = this.#waiting;
    this.#waiting = [];
    for (const look of waiting) look();
  }

  /** Resolves once `holds`. The test's own time limit ends a wait in vain. */
  async until(holds: () => boolean): Promise<void> {
    while (!holds()) await new Promise<void>((resolve) => this.#waiting.push(resolve));
  }
}

export class Recorder extends Happenings implements TrackerClientListener {
  readonly log: string[] = [];

  #note(what: string): void {
    this.log.push(what);
    this.happened();
  }

  of(kind: string): string[] {
    return this.log.filter((entry) => entry.startsWith(kind));
  }

  connected(): void {
    this.#note('connected');
  }
  lost(why: string): void {
    this.#note(`lost ${why}`);
  }
  turnedAway(code: number): void {
    this.#note(`turnedAway ${code}`);
  }
  acked(n: number): void {
    this.#note(`acked ${n}`);
  }
  sentAgain(n: number): void {
    this.#note(`sentAgain ${n}`);
  }
  refused(n: number): void {
    this.#note(`refused ${n}`);
  }
  room(): void {
    this.#note('room');
  }
}

export function clientOptions(port: number, more: Partial<TrackerClientOptions> = {}): TrackerClientOptions {
  return {
    host: '127.0.0.1',
    port,
    clientId: 'tracker-a',
    username: 'tracker-a',
    password: 'pass',
    keepAliveS: 60,
    cleanSession: false,
    inFlight: 8,
    backOffFirstMs: 1,
    backOffLastMs: 8,
    connectTimeoutMs: 10_000,
    ...more,
  };
}

/** An MQTT.js subscriber, the reference on the other side of the broker. */
export class Subscriber extends Happenings {
  readonly client: MqttClient;
  readonly messages: IPublishPacket[] = [];

  private constructor(client: MqttClient) {
    super();
    this.client = client;
    client.on('message', (_topic, _payload, packet) => {
      this.messages.push(packet);
      this.happened();
    });
  }

  static async to(broker: Broker, filter: string, qos: 0 | 1 | 2 = 2): Promise<Subscriber> {
    const client = await connectAsync({
      host: broker.host,
      port: broker.port,
      clientId: `subscriber-${filter}-${qos}`,
      username: 'subscriber',
      password: 'pass',
      reconnectPeriod: 0,
    });
    const subscriber = new Subscriber(client);
    await client.subscribeAsync(filter, { qos });
    return subscriber;
  }

  get texts(): string[] {
    return this.messages.map((message) => message.payload.toString());
  }
}

/** One connection to a ScriptedServer. */
export interface Visit {
  readonly socket: Socket;
  /** All packets after CONNECT, in order. */
  readonly packets: Packet[];
  send(packet: Packet): void;
}

/** Accepts every CONNECT; all else is up to the test. */
export class ScriptedServer extends Happenings {
  readonly visits: Visit[] = [];
  readonly #server = createServer((socket) => this.#visited(socket));
  #onPacket: (packet: Packet, visit: Visit, index: number) => void;

  constructor(onPacket: (packet: Packet, visit: Visit, index: number) => void = () => {}) {
    super();
    this.#onPacket = onPacket;
  }

  #visited(socket: Socket): void {
    const visit: Visit = { socket, packets: [], send: (packet) => socket.write(generate(packet)) };
    const index = this.visits.push(visit) - 1;
    const reading = parser();
    reading.on('packet', (packet) => {
      if (packet.cmd === 'connect') visit.send({ cmd: 'connack', sessionPresent: index > 0, returnCode: 0 });
      else {
        visit.packets.push(packet);
        this.#onPacket(packet, visit, index);
      }
      this.happened();
    });
    socket.on('data', (bytes: Buffer) => reading.parse(bytes));
    socket.on('error', () => socket.destroy());
    socket.on('close', () => this.happened());
  }

  async listen(): Promise<number> {
    await new Promise<void>((resolve) => this.#server.listen(0, '127.0.0.1', resolve));
    return (this.#server.address() as AddressInfo).port;
  }

  async close(): Promise<void> {
    for (const { socket } of this.visits) socket.destroy();
    await new Promise((resolve) => this.#server.close(resolve));
  }
}
