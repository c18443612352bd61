// Messages per second of the thin publisher against a plain loop around MQTT.js (a general-purpose client):
// same broker in a process of its own, same payload, one connection a tracker, same window.
// Two rates: `publisher` until the publisher is done (QoS 0 handed to the socket, QoS 1 acknowledged), `broker` until the
// broker has accepted the last one. Where the broker is the slower of the two, the second says little of the
// publisher; its CPU time a message does, and is printed beside it.
// Run: node --import tsx test/bench/publish.ts [messages a round] [rounds] [port of another broker on this machine]
// Another broker must take anonymous clients; what it has accepted can't be asked, so that rate is left out.
import { fork, type ChildProcess } from 'node:child_process';
import { once } from 'node:events';
import { fileURLToPath } from 'node:url';
import { connectAsync, type MqttClient } from 'mqtt';
import { startBroker } from '../../sim/broker/embedded.ts';
import type { TrackerClientListener } from '../../sim/publish/client-options.ts';
import { TrackerClient } from '../../sim/publish/client.ts';
import { Ledger, type TrackerLedger } from '../../sim/publish/ledger.ts';
import type { Qos } from '../../sim/scenario/scenario.ts';

const TRACKERS = 100;
const WINDOW = 8;
const PAYLOAD = Buffer.from(JSON.stringify({ id: '004401000000005', text: 'x'.repeat(316) }));

async function serve(): Promise<void> {
  const topics = Array.from({ length: TRACKERS }, (_, k) => topicOf(k));
  const broker = await startBroker({ authorise: () => ({ publish: topics, subscribe: [] }) });
  process.on('message', () => process.send?.({ accepted: broker.stats.accepted }));
  process.on('disconnect', () => process.exit(0));
  process.send?.({ port: broker.port });
}

async function measure(messages: number, rounds: number, otherPort: number | undefined): Promise<void> {
  const child = otherPort === undefined ? fork(fileURLToPath(import.meta.url), ['broker']) : undefined;
  const port = otherPort ?? ((await once(child as ChildProcess, 'message')) as [{ port: number }])[0].port;
  let accepted = 0;
  const allAccepted = async (): Promise<void> => {
    accepted += messages;
    if (!child) return;
    for (;;) {
      child.send('count');
      const [reply] = (await once(child, 'message')) as [{ accepted: number }];
      if (reply.accepted >= accepted) return;
    }
  };
  console.log(`${TRACKERS} trackers, ${PAYLOAD.length} B, ${messages} messages a round, median of ${rounds}`);
  for (const qos of [0, 1] as const) {
    const thin: Round[] = [];
    const loop: Round[] = [];
    // Alternating, so that a busy machine slows both; the first round of each warms up.
    for (let round = 0; round <= rounds; round++) {
      const a = await thinRound(port, qos, messages, allAccepted);
      const b = await loopRound(port, qos, messages, allAccepted);
      if (round === 0) continue;
      thin.push(a);
      loop.push(b);
    }
    tell(`QoS ${qos} publisher, msg/s`, thin, loop, (round) => round.publisherPerS);
    if (child) tell(`QoS ${qos} broker, msg/s   `, thin, loop, (round) => round.brokerPerS);
    tell(`QoS ${qos} msg/CPU second  `, thin, loop, (round) => round.perCpuS);
  }
  child?.disconnect();
}

interface Round {
  readonly publisherPerS: number;
  readonly brokerPerS: number;
  readonly perCpuS: number;
}

/** A stopwatch over real time and this process's CPU time, connecting not counted on either side. */
class Watch {
  readonly #startMs = performance.now();
  readonly #cpu = process.cpuUsage();
  #doneMs = 0;
  #cpuUs = 0;

  /** The publisher is done. */
  published(): void {
    this.#doneMs = performance.now();
    const { user, system } = process.cpuUsage(this.#cpu);
    this.#cpuUs = user + system;
  }

  /** The broker is, too. */
  round(messages: number): Round {
    return {
      publisherPerS: (messages * 1000) / (this.#doneMs - this.#startMs),
      brokerPerS: (messages * 1000) / (performance.now() - this.#startMs),
      perCpuS: (messages * 1e6) / this.#cpuUs,
    };
  }
}

function tell(
  what: string,
  thin: readonly Round[],
  loop: readonly Round[],
  of: (round: Round) => number,
): void {
  const a = median(thin.map(of));
  const b = median(loop.map(of));
  console.log(`${what}: thin ${Math.round(a)}, MQTT.js loop ${Math.round(b)}, ratio ${(a / b).toFixed(2)}`);
}

function topicOf(k: number): string {
  return `bench/tracker-${k}/readings`;
}

async function thinRound(
  port: number,
  qos: Qos,
  messages: number,
  allAccepted: () => Promise<void>,
): Promise<Round> {
  // With the ledger, as in a run.
  const ledger = await Ledger.open(undefined, { seed: 'bench', scenario: '' });
  const trackers = Array.from({ length: TRACKERS }, (_, k) => new Thin(k, port, qos, ledger));
  await Promise.all(trackers.map((tracker) => tracker.ready));
  const watch = new Watch();
  await Promise.all(trackers.map((tracker) => tracker.publish(messages / TRACKERS)));
  watch.published();
  await allAccepted();
  const round = watch.round(messages);
  await Promise.all(trackers.map((tracker) => tracker.client.close()));
  await ledger.close();
  return round;
}

/** One tracker that publishes whenever there's room. */
class Thin implements TrackerClientListener {
  readonly client: TrackerClient;
  readonly ready: Promise<void>;
  readonly #ledger: Ledger;
  readonly #mine: TrackerLedger;
  readonly #topic: string;
  readonly #qos: Qos;
  #isReady: () => void = () => {};
  #isDone: () => void = () => {};
  #count = 0;
  #sent = 0;
  #acked = 0;

  constructor(k: number, port: number, qos: Qos, ledger: Ledger) {
    this.#topic = topicOf(k);
    this.#qos = qos;
    this.#ledger = ledger;
    this.#mine = ledger.tracker(String(k));
    this.client = new TrackerClient(
      {
        host: '127.0.0.1',
        port,
        clientId: `thin-${k}`,
        keepAliveS: 60,
        cleanSession: true,
        inFlight: WINDOW,
        backOffFirstMs: 100,
        backOffLastMs: 1000,
        connectTimeoutMs: 5000,
      },
      this,
    );
    this.ready = new Promise((resolve) => (this.#isReady = resolve));
    this.client.connect();
  }

  publish(count: number): Promise<void> {
    this.#count = count;
    return new Promise((resolve) => {
      this.#isDone = resolve;
      this.room();
    });
  }

  room(): void {
    while (this.#sent < this.#count) {
      const nowMs = this.#ledger.nowMs();
      if (!this.client.publish(this.#sent, this.#topic, PAYLOAD, this.#qos, false, nowMs)) return;
      this.#mine.attempted(this.#sent, nowMs, this.#qos > 0);
      this.#sent += 1;
    }
    if (this.#qos === 0) this.#isDone();
  }

  acked(n: number, intendedMs: number): void {
    const nowMs = this.#ledger.nowMs();
    this.#mine.acked(n, nowMs, nowMs - intendedMs);
    this.#acked += 1;
    if (this.#acked === this.#count) this.#isDone();
  }

  connected(): void {
    this.#isReady();
  }

  lost(why: string): void {
    throw new Error(why);
  }

  turnedAway(code: number): void {
    throw new Error(`CONNACK ${code}`);
  }

  sentAgain(): void {}

  refused(): void {}
}

async function loopRound(
  port: number,
  qos: Qos,
  messages: number,
  allAccepted: () => Promise<void>,
): Promise<Round> {
  const clients = await Promise.all(
    Array.from({ length: TRACKERS }, (_, k) =>
      connectAsync({ host: '127.0.0.1', port, clientId: `loop-${k}`, reconnectPeriod: 0 }),
    ),
  );
  const each = messages / TRACKERS;
  const watch = new Watch();
  await Promise.all(clients.map((client, k) => loop(client, topicOf(k), qos, each)));
  watch.published();
  await allAccepted();
  const round = watch.round(messages);
  await Promise.all(clients.map((client) => client.endAsync()));
  return round;
}

/** WINDOW publishes outstanding, each awaited: QoS 0 until it is handed to the socket, QoS 1 until it is acknowledged. */
async function loop(client: MqttClient, topic: string, qos: Qos, count: number): Promise<void> {
  let sent = 0;
  const one = async (): Promise<void> => {
    while (sent < count) {
      sent += 1;
      await client.publishAsync(topic, PAYLOAD, { qos });
    }
  };
  await Promise.all(Array.from({ length: WINDOW }, one));
}

function median(values: readonly number[]): number {
  const sorted = values.toSorted((a, b) => a - b);
  return sorted[Math.floor(sorted.length / 2)] ?? Number.NaN;
}

if (process.argv[2] === 'broker') await serve();
else {
  const [, , messages = '40000', rounds = '5', other] = process.argv;
  await measure(Number(messages), Number(rounds), other === undefined ? undefined : Number(other));
}
