// Whole fleets against the embedded broker on real sockets.
import { afterEach, describe, expect, it } from 'vitest';
import { startBroker, type Broker } from '../../sim/broker/embedded.ts';
import { BadInput, NotCompleted } from '../../sim/errors.ts';
import type { FleetStep } from '../../sim/publish/lane.ts';
import { Ledger } from '../../sim/publish/ledger.ts';
import { publishFleet, type PublishOptions, type PublishSummary } from '../../sim/publish/publish-fleet.ts';
import type { DropHow, Qos } from '../../sim/scenario/scenario.ts';
import { clientOptions, ScriptedServer, Subscriber } from './publish-support.ts';

const START_MS = Date.UTC(2031, 2, 3);
const ends: (() => Promise<unknown>)[] = [];
afterEach(async () => {
  for (const end of ends.splice(0).toReversed()) await end();
});

async function broker(): Promise<Broker> {
  const started = await startBroker({
    authorise: (clientId, _username, password) =>
      password === 'pass' ? { publish: [`isles/${clientId}/readings`], subscribe: ['isles/#'] } : undefined,
  });
  ends.push(() => started.close());
  return started;
}

/** Steps of one tracker, written down one by one. */
class Script {
  readonly tracker: number;
  readonly id: string;
  readonly steps: FleetStep[] = [];
  #n = 0;

  constructor(tracker: number) {
    this.tracker = tracker;
    this.id = `t${tracker}`;
  }

  #step(event: FleetStep['event'], payload?: Uint8Array): this {
    this.steps.push({ tracker: this.tracker, trackerId: this.id, event, payload });
    return this;
  }

  connect(atMs = 0): this {
    return this.#step({ kind: 'connect', atMs: START_MS + atMs });
  }

  drop(how: DropHow, atMs = 0): this {
    return this.#step({ kind: 'disconnect', atMs: START_MS + atMs, how });
  }

  emit(count: number, qos: Qos = 1, atMs = 0, topic = `isles/${this.id}/readings`): this {
    for (let k = 0; k < count; k++) {
      const n = this.#n++;
      this.#step(
        {
          kind: 'emission',
          atMs: START_MS + atMs,
          n,
          purpose: 'readings',
          topic,
          qos,
          retain: false,
          readings: [],
          repeat: false,
          boot: 1,
        },
        Buffer.from(`${this.id} ${n}`),
      );
    }
    return this;
  }
}

/** Trackers' steps, one of each in turn. */
function* merged(scripts: readonly Script[]): Generator<FleetStep, void> {
  const longest = Math.max(...scripts.map((script) => script.steps.length));
  for (let k = 0; k < longest; k++) {
    for (const script of scripts) {
      const step = script.steps[k];
      if (step) yield step;
    }
  }
}

async function run(
  port: number,
  scripts: readonly Script[],
  more: Partial<PublishOptions> = {},
  password = 'pass',
): Promise<{ summary: PublishSummary; ledger: Ledger }> {
  const ledger = await Ledger.open(undefined, { seed: 's', scenario: 'd' });
  ends.push(() => ledger.close());
  const summary = await publishFleet({
    steps: merged(scripts),
    target: { host: '127.0.0.1', port },
    clientFor: (k) => clientOptions(port, { clientId: `t${k}`, username: `t${k}`, password }),
    pace: 'full',
    ledger,
    startMs: START_MS,
    drainTimeoutMs: 20_000,
    ...more,
  });
  return { summary, ledger };
}

/** First copies only: their order is what MQTT promises per client, topic and QoS (section 4.6). */
function firstCopies(texts: readonly string[], id: string): number[] {
  return [...new Set(texts.filter((text) => text.startsWith(`${id} `)))].map((text) =>
    Number(text.slice(id.length + 1)),
  );
}

describe('publishFleet', () => {
  it('through resets, silence and clean ends: all acked, none lost, each tracker in order', async () => {
    const running = await broker();
    const heard = await Subscriber.to(running, 'isles/#');
    ends.push(() => heard.client.endAsync(true));
    const scripts = Array.from({ length: 12 }, (_, k) =>
      new Script(k)
        .connect()
        .emit(30)
        .drop(k % 2 === 0 ? 'reset' : 'half-open')
        .connect()
        .emit(30)
        .drop('clean')
        .connect()
        .drop('half-open')
        .connect()
        .emit(30, 2)
        .drop('clean'),
    );
    const { summary, ledger } = await run(running.port, scripts);
    expect(summary).toMatchObject({
      interrupted: false,
      emissions: 12 * 90,
      pending: [],
      connects: 48,
      drops: 48,
    });
    expect(summary.totals).toMatchObject({ attempted: 12 * 90, acked: 12 * 90, refused: 0, written: 0 });
    expect(summary.delay.count).toBe(12 * 90);
    expect(ledger.outcome('t3', 89)).toBe('acked');
    const all = Array.from({ length: 90 }, (_, n) => n);
    await heard.until(() => new Set(heard.texts).size === 12 * 90);
    for (const script of scripts) expect(firstCopies(heard.texts, script.id)).toEqual(all);
    // The links that broke had something outstanding: the window is 8, and 30 were sent as fast as possible.
    expect(summary.totals.again).toBeGreaterThan(0);
  });

  it('QoS 0 is written and stays unknown', async () => {
    const running = await broker();
    const { summary, ledger } = await run(running.port, [new Script(0).connect().emit(500, 0).drop('clean')]);
    expect(summary.totals).toMatchObject({ attempted: 500, written: 500, acked: 0 });
    expect(ledger.outcome('t0', 499)).toBe('unknown');
    expect(ledger.outcome('t0', 500)).toBe('never-sent');
    expect(running.stats.accepted).toBe(500);
  });

  it('a denied emission is refused, and the rest goes on', async () => {
    const running = await broker();
    const script = new Script(0).connect().emit(2).emit(1, 1, 0, 'elsewhere').emit(2).drop('clean');
    const { summary, ledger } = await run(running.port, [script]);
    const outcomes = [0, 1, 2, 3, 4].map((n) => ledger.outcome('t0', n));
    expect(outcomes.join(' ')).toBe('acked acked refused acked acked');
    expect(summary.pending).toEqual([]);
  });

  it('what a tracker that never comes back left open is unknown, and nobody owes it', async () => {
    const server = new ScriptedServer();
    ends.push(() => server.close());
    const port = await server.listen();
    const { summary, ledger } = await run(port, [new Script(0).connect().emit(3).drop('half-open')]);
    expect(summary.pending).toEqual([]);
    expect(ledger.outcome('t0', 2)).toBe('unknown');
  });

  it('a broker that acknowledges nothing is waited for as long as allowed, then said in words', async () => {
    const server = new ScriptedServer();
    ends.push(() => server.close());
    const port = await server.listen();
    // More steps than may wait at a time: then some are left, and the run can't be completed.
    const long = run(port, [new Script(1).connect().emit(10_000)], { drainTimeoutMs: 2000 });
    const short = run(port, [new Script(0).connect().emit(3)], { drainTimeoutMs: 2000 });
    await expect(long).rejects.toThrow(
      /^Nothing went on for 2000 ms at the broker: 8 emissions unacked by tracker t1; 4088 steps not begun of tracker t1\.$/,
    );
    expect((await short).summary.pending).toEqual(['3 emissions unacked by tracker t0']);
  });

  it('paced: nothing leaves before it is due', async () => {
    const running = await broker();
    const script = new Script(0).connect().emit(5, 1, 100_000).emit(5, 1, 200_000).drop('clean', 200_000);
    const { summary } = await run(running.port, [script], { pace: { times: 1000 } });
    expect(summary.totals.acked).toBe(10);
    expect(summary.realMs).toBeGreaterThanOrEqual(200);
  });

  it('stops when told to, and says so', async () => {
    const running = await broker();
    const stop = new AbortController();
    const endless = new Script(0).connect().emit(1).emit(1, 1, 3_600_000);
    const { summary } = await run(running.port, [endless], {
      pace: { times: 1 },
      signal: stop.signal,
      onProgress: ({ acked }) => {
        if (acked === 1) stop.abort();
      },
    });
    expect(summary).toMatchObject({ interrupted: true, emissions: 1 });
  });

  it('no broker: one clear line', async () => {
    const server = new ScriptedServer();
    const port = await server.listen();
    await server.close();
    const lost = run(port, [new Script(0).connect().emit(1)]);
    await expect(lost).rejects.toBeInstanceOf(NotCompleted);
    await expect(lost).rejects.toThrow(
      new RegExp(`^No broker could be reached at 127\\.0\\.0\\.1:${port}: .*ECONNREFUSED.*\\.$`),
    );
  });

  it('a wrong password: one clear line', async () => {
    const running = await broker();
    const away = run(running.port, [new Script(0).connect().emit(1)], {}, 'wrong');
    await expect(away).rejects.toThrow(
      `The broker at 127.0.0.1:${running.port} turned tracker t0 away: bad user name or password (CONNACK 4).`,
    );
    await expect(away).rejects.toBeInstanceOf(NotCompleted);
  });

  it('a topic that MQTT can’t carry is bad input, wherever it comes up', async () => {
    const running = await broker();
    const run1 = run(running.port, [new Script(0).connect().emit(20).emit(1, 1, 0, 'isles/#').drop('clean')]);
    await expect(run1).rejects.toBeInstanceOf(BadInput);
  });

  it('a broker that goes and comes back is waited for, and everything is acked', async () => {
    const first = await broker();
    const heard = await Subscriber.to(first, 'isles/#');
    const scripts = Array.from({ length: 4 }, (_, k) => new Script(k).connect().emit(500).drop('clean'));
    const restarted = heard
      .until(() => heard.messages.length >= 100)
      .then(() => first.close())
      .then(() =>
        startBroker({
          port: first.port,
          authorise: () => ({ publish: scripts.map(({ id }) => `isles/${id}/readings`), subscribe: [] }),
        }),
      );
    const { summary } = await run(first.port, scripts);
    const second = await restarted;
    ends.push(() => second.close());
    expect(summary.totals).toMatchObject({ attempted: 2000, acked: 2000 });
    expect(summary.pending).toEqual([]);
    expect(summary.connects).toBeGreaterThanOrEqual(8);
    // aedes acknowledges before it accepts, so at its end it may drop what a window holds; no more than that.
    expect(first.stats.accepted + second.stats.accepted).toBeGreaterThanOrEqual(2000 - 4 * 8);
  });

  it('more trackers than connect at a time, and than wait at a time', async () => {
    const running = await broker();
    const scripts = Array.from({ length: 600 }, (_, k) => new Script(k).connect().emit(10).drop('clean'));
    const { summary } = await run(running.port, scripts);
    expect(summary.totals.acked).toBe(6000);
    expect(summary.connects).toBe(600);
    expect(running.stats.accepted).toBe(6000);
  });
});
