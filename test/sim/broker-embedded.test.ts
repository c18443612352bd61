// The embedded broker and its tap, with MQTT.js and bare sockets on the other side.
import { existsSync } from 'node:fs';
import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { connect as connectTcp } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createHash } from 'node:crypto';
import fc from 'fast-check';
import { generate } from 'mqtt-packet';
import { connectAsync } from 'mqtt';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { startBroker, type Broker, type BrokerOptions, type Rights } from '../../sim/broker/embedded.ts';
import { readTap, Tap, type TapRecord } from '../../sim/broker/tap.ts';
import { BadInput, NotCompleted } from '../../sim/errors.ts';
import { TrackerClient } from '../../sim/publish/client.ts';
import { clientOptions, Recorder, Subscriber } from './publish-support.ts';

let folder = '';
const ends: (() => Promise<unknown>)[] = [];
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'wayproof-broker-'));
});
afterAll(async () => {
  await rm(folder, { recursive: true });
});
afterEach(async () => {
  for (const end of ends.splice(0).toReversed()) await end();
});

const RIGHTS: Readonly<Record<string, Rights>> = {
  'tracker-a': { publish: ['isles/a/readings', 'isles/a/status'], subscribe: [] },
  subscriber: { publish: [], subscribe: ['isles/#'] },
};

async function broker(more: Partial<BrokerOptions> = {}): Promise<Broker> {
  const started = await startBroker({
    authorise: (_client, username, password) => (password === 'pass' ? RIGHTS[username ?? ''] : undefined),
    ...more,
  });
  ends.push(() => started.close());
  return started;
}

async function tracker(port: number, more = {}): Promise<{ client: TrackerClient; told: Recorder }> {
  const told = new Recorder();
  const client = new TrackerClient(clientOptions(port, more), told);
  ends.push(() => client.close());
  client.connect();
  await told.until(() => told.log.length > 0);
  return { client, told };
}

async function subscriber(to: Broker, filter = 'isles/#'): Promise<Subscriber> {
  const started = await Subscriber.to(to, filter);
  ends.push(() => started.client.endAsync(true));
  return started;
}

async function all(reader: AsyncIterable<TapRecord>): Promise<TapRecord[]> {
  const records: TapRecord[] = [];
  for await (const record of reader) records.push(record);
  return records;
}

async function recordsOf(file: string): Promise<TapRecord[]> {
  return all(readTap(file));
}

const READINGS = 'isles/a/readings';
const STATUS = 'isles/a/status';
const offline = { topic: STATUS, payload: Buffer.from('offline'), qos: 1, retain: true } as const;

describe('delivery to an MQTT.js subscriber', () => {
  it.each([0, 1, 2] as const)('QoS %i: whole, once and in order', async (qos) => {
    const running = await broker();
    const heard = await subscriber(running);
    const { client, told } = await tracker(running.port);
    const sent = Array.from({ length: 50 }, (_, n) => `reading ${n} "ñ🚲"`);
    for (const [n, text] of sent.entries()) {
      await told.until(() => client.publish(n, READINGS, Buffer.from(text), qos, false, 0));
    }
    await heard.until(() => heard.messages.length === sent.length);
    expect(heard.texts).toEqual(sent);
    expect(heard.messages.every((message) => message.qos === qos)).toBe(true);
    if (qos > 0) await told.until(() => told.of('acked').length === sent.length);
    expect(told.of('acked').length).toBe(qos > 0 ? sent.length : 0);
    expect(running.stats.accepted).toBe(sent.length);
  });

  it('a payload larger than a slab and larger than a read', async () => {
    const running = await broker();
    const heard = await subscriber(running);
    const { client } = await tracker(running.port);
    const payload = Buffer.from('0123456789'.repeat(15_000));
    client.publish(0, READINGS, Buffer.from('before'), 1, false, 0);
    client.publish(1, READINGS, payload, 1, false, 0);
    client.publish(2, READINGS, Buffer.from('after'), 1, false, 0);
    await heard.until(() => heard.messages.length === 3);
    expect(heard.texts).toEqual(['before', payload.toString(), 'after']);
  });

  it('retained: a later subscriber gets it with RETAIN 1, a standing one with 0 [MQTT-3.3.1-8]', async () => {
    const running = await broker();
    const standing = await subscriber(running);
    const { client, told } = await tracker(running.port);
    client.publish(0, STATUS, Buffer.from('online'), 1, true, 0);
    await told.until(() => told.log.includes('acked 0'));
    await standing.until(() => standing.messages.length === 1);
    const later = await subscriber(running, STATUS);
    await later.until(() => later.messages.length === 1);
    expect([standing.messages[0]?.retain, later.messages[0]?.retain]).toEqual([false, true]);
  });
});

describe('the will (3.1.2.5)', () => {
  it('is published after a reset, and not after DISCONNECT [MQTT-3.14.4-3]', async () => {
    const running = await broker();
    const heard = await subscriber(running);
    const { client, told } = await tracker(running.port, { will: offline });
    client.drop('clean');
    client.connect();
    await told.until(() => told.of('connected').length === 2);
    client.publish(0, READINGS, Buffer.from('between'), 1, false, 0);
    await heard.until(() => heard.messages.length === 1);
    expect(heard.texts).toEqual(['between']);
    client.drop('reset');
    await heard.until(() => heard.messages.length === 2);
    expect(heard.texts).toEqual(['between', 'offline']);
  });

  it('is published on takeover of a half-open link, before the new session’s first message [MQTT-3.1.4-2]', async () => {
    const running = await broker();
    const heard = await subscriber(running);
    const { client, told } = await tracker(running.port, { will: offline });
    client.drop('half-open');
    client.connect();
    await told.until(() => told.of('connected').length === 2);
    client.publish(0, STATUS, Buffer.from('online'), 1, true, 0);
    await heard.until(() => heard.messages.length === 2);
    expect(heard.texts).toEqual(['offline', 'online']);
  });
});

describe('half-open', () => {
  it.each([1, 2] as const)('QoS %i: none lost; QoS 1 twice at the tap, QoS 2 once', async (qos) => {
    const file = join(folder, `half-open-${qos}.ndjson`);
    const tap = await Tap.open(file);
    const running = await broker({ tap });
    const heard = await subscriber(running);
    const { client, told } = await tracker(running.port);
    for (let n = 0; n < 5; n++) client.publish(n, READINGS, Buffer.from(`${n}`), qos, false, 0);
    client.drop('half-open');
    await heard.until(() => heard.messages.length >= 5);
    client.connect();
    await told.until(() => told.of('acked').length === 5);
    expect(told.of('acked')).toEqual(['acked 0', 'acked 1', 'acked 2', 'acked 3', 'acked 4']);
    await running.close();
    await tap.close();
    const records = await recordsOf(file);
    expect(records.length).toBe(qos === 1 ? 10 : 5);
    expect(records.filter((record) => record.dup).length).toBe(qos === 1 ? 5 : 0);
    expect(new Set(records.map((record) => record.sha256)).size).toBe(5);
  });
});

describe('rights', () => {
  it('a wrong password is turned away with CONNACK 4', async () => {
    const running = await broker();
    const { client, told } = await tracker(running.port, { password: 'wrong' });
    expect(told.log).toEqual(['turnedAway 4']);
    expect(client.state).toBe('idle');
    expect(running.stats).toMatchObject({ connected: 0, denied: 1 });
  });

  it('a denied publish is never acknowledged, is given up, and holds up nothing behind it', async () => {
    const tap = await Tap.open(undefined, {}, ['isles/a/readings', 'isles/b/#']);
    const running = await broker({ tap });
    const { client, told } = await tracker(running.port);
    const topics = [READINGS, 'isles/b/readings', READINGS, READINGS];
    for (const [n, topic] of topics.entries()) client.publish(n, topic, Buffer.from(`${n}`), 1, false, 0);
    await told.until(() => told.of('acked').length === 3 && told.of('refused').length === 1);
    expect(told.of('refused')).toEqual(['refused 1']);
    expect(new Set(told.of('acked'))).toEqual(new Set(['acked 0', 'acked 2', 'acked 3']));
    expect(tap.accepted.get('isles/b/#')).toBe(0);
    expect(tap.accepted.get('isles/a/readings')).toBeGreaterThanOrEqual(3);
  });

  it('a subscription beyond the filters gets SUBACK 0x80, one within them is granted [MQTT-3.9.3]', async () => {
    const running = await broker();
    const client = await connectAsync({
      host: running.host,
      port: running.port,
      username: 'subscriber',
      password: 'pass',
    });
    ends.push(() => client.endAsync(true));
    const granted = await client.subscribeAsync('isles/+/readings', { qos: 1 });
    expect(granted[0]?.qos).toBe(1);
    await expect(client.subscribeAsync('#')).rejects.toThrow(/Unspecified error|128/);
    expect(running.stats.denied).toBe(1);
  });
});

describe('limits', () => {
  it('closes a connection at the header of a packet that is too large', async () => {
    const running = await broker({ maxPacketBytes: 1000 });
    const socket = connectTcp(running.port, running.host);
    const closed = new Promise<void>((resolve) => socket.once('close', () => resolve()));
    socket.on('error', () => {});
    socket.write(
      generate({
        cmd: 'connect',
        clientId: 'tracker-a',
        username: 'tracker-a',
        password: Buffer.from('pass'),
      }),
    );
    await new Promise((resolve) => socket.once('data', resolve));
    // The header of a PUBLISH of 1 MB; its body never comes.
    socket.write(Buffer.from([0x30, 0xc0, 0x84, 0x3d]));
    await closed;
    expect(running.stats.denied).toBe(1);
  });

  it('says a port in use, and how to mend it', async () => {
    const running = await broker();
    const second = startBroker({ authorise: () => undefined, port: running.port });
    await expect(second).rejects.toThrow(
      /expected a free port, found one in use.*another port, or 0 for any/,
    );
    await expect(startBroker({ authorise: () => undefined, host: '192.0.2.1' })).rejects.toBeInstanceOf(
      BadInput,
    );
  });
});

describe('tap', () => {
  it('keeps client, topic, QoS, retain, size and digest of each message, in the order of acceptance', async () => {
    const file = join(folder, 'tap.ndjson');
    const tap = await Tap.open(file, { seed: 'tarn-1' }, ['isles/+/readings', '#']);
    const running = await broker({ tap });
    const { client, told } = await tracker(running.port, { will: offline });
    const payload = Buffer.from('{"seq":0}');
    client.publish(0, STATUS, Buffer.from('online'), 1, true, 0);
    client.publish(1, READINGS, payload, 1, false, 0);
    await told.until(() => told.of('acked').length === 2);
    await running.close();
    await tap.close();
    const reader = readTap(file);
    const records = await all(reader);
    expect(reader.complete).toBe(true);
    expect(reader.header).toEqual({ wayproof: 'tap/1', seed: 'tarn-1' });
    // The broker's end is no DISCONNECT, so the will is the last.
    expect(records.map((record) => [record.client, record.topic, record.qos, record.retain])).toEqual([
      ['tracker-a', STATUS, 1, true],
      ['tracker-a', READINGS, 1, false],
      ['tracker-a', STATUS, 1, true],
    ]);
    expect(records[1]).toMatchObject({
      bytes: payload.length,
      dup: false,
      sha256: createHash('sha256').update(payload).digest('hex').slice(0, 32),
    });
    expect([...tap.accepted]).toEqual([
      ['isles/+/readings', 1],
      ['#', 3],
    ]);
  });

  it('is readable when cut at any byte, and says that it isn’t complete', async () => {
    const file = join(folder, 'whole.ndjson');
    const tap = await Tap.open(file);
    for (let n = 0; n < 20; n++) {
      tap.record('ñ', { topic: READINGS, qos: 0, retain: false, dup: false, payload: `${n}` });
    }
    await tap.close();
    const bytes = await readFile(file);
    const whole = await recordsOf(file);
    const cut = join(folder, 'cut.ndjson');
    await fc.assert(
      fc.asyncProperty(fc.nat({ max: bytes.length - 1 }), async (size) => {
        await writeFile(cut, bytes.subarray(0, size));
        const reader = readTap(cut);
        const records = await all(reader);
        expect(reader.complete).toBe(false);
        expect(records).toEqual(whole.slice(0, records.length));
      }),
      { seed: 61, numRuns: 100 },
    );
  });

  it.skipIf(!existsSync('/dev/full'))('fails at close when the disk is full', async () => {
    const tap = await Tap.open('/dev/full');
    tap.record('a', { topic: READINGS, qos: 0, retain: false, dup: false, payload: 'x' });
    await expect(tap.close()).rejects.toBeInstanceOf(NotCompleted);
  });
});
