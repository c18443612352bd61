// The reference pipeline against a real broker (aedes over TCP), MQTT.js as publisher.
import { Buffer } from 'node:buffer';
import { mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { createServer, type AddressInfo, type Server, type Socket } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Aedes } from 'aedes';
import mqtt, { type MqttClient } from 'mqtt';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import type { Column, Contract } from '../../harness/contract/contract.ts';
import { HostedPipeline } from '../../harness/pipeline/host.ts';
import { PROMPT_BATCH, type ExportQuery, type PipelineOptions } from '../../harness/pipeline/pipeline.ts';
import { ReferencePipeline } from '../../harness/pipeline/reference.ts';
import { rowOf } from '../../harness/pipeline/row.ts';
import { readStore, Store } from '../../harness/pipeline/store.ts';
import { BadInput, decoderFor, NotCompleted, type WireReading } from '../../sim/index.ts';

const AT = Date.UTC(2031, 2, 3);

/** A good reading, number `seq` of a test IMEI, one a second. */
function reading(seq: number, change: WireReading = {}): WireReading {
  return {
    id: '004999010640000',
    label: 'crate "7", Ostrel',
    boot: 1,
    seq,
    at: new Date(AT + seq * 1000).toISOString(),
    clock: 'gnss',
    fix: '3d',
    latDeg: -38.4,
    lonDeg: -14.2000001,
    altM: 3.7,
    speedMps: 0,
    courseDeg: null,
    satellites: 9,
    hdop: 0.9,
    accuracyM: 2.5,
    airTempC: 4.25,
    humidityPct: 81.5,
    pressurePa: 101_325,
    accelMps2: null,
    batteryV: 3.712,
    batteryPct: 80,
    rsrpDbm: -98,
    rsrqDb: -10.5,
    ...change,
  };
}

const text = (name: string, field: string | null, nullAs: string | null = null): Column => ({
  name,
  field,
  form: { kind: 'text' },
  nullAs,
});
const number = (name: string, field: string, decimals: number | null, factor = 1): Column => ({
  name,
  field,
  form: { kind: 'number', factor, within: 0, decimals },
  nullAs: '',
});
const UTC: Column['form'] = { kind: 'time', as: 'rfc3339', zone: 'UTC', secondDecimals: 3 };
const COLUMNS: readonly Column[] = [
  text('tracker', 'id'),
  text('name', 'label'),
  number('boot', 'boot', 0),
  number('seq', 'seq', 0),
  { name: 'time', field: 'at', form: UTC, nullAs: null },
  number('lat', 'latDeg', 7),
  number('lon', 'lonDeg', null),
  number('course', 'courseDeg', 1),
  number('kmh', 'speedMps', 1, 3.6),
];
const CSV: Contract['csv'] = {
  delimiter: ',',
  lineEnd: 'crlf',
  header: true,
  byteOrderMark: 'none',
  formulaGuard: '',
};

let folder = '';
let broker: Aedes;
let server: Server;
let sockets: Set<Socket>;
let publisher: MqttClient;
let port = 0;
/** Payloads whose PUBACK from the pipeline the broker has seen, and how many acks of either QoS. */
let acked: string[] = [];
let acks = 0;
const opened: { close(): Promise<void> }[] = [];

async function listen(): Promise<void> {
  server = createServer((socket) => {
    sockets.add(socket);
    socket.on('close', () => sockets.delete(socket));
    broker.handle(socket);
  });
  await new Promise<void>((resolve) => server.listen(port, '127.0.0.1', resolve));
  port = (server.address() as AddressInfo).port;
}

beforeEach(async () => {
  folder = mkdtempSync(join(tmpdir(), 'pipeline-'));
  broker = await Aedes.createBroker({ id: 'broker' });
  sockets = new Set();
  acked = [];
  acks = 0;
  broker.on('ack', (packet) => {
    acks += 1;
    if (packet !== undefined && 'payload' in packet) acked.push(String(packet.payload));
  });
  port = 0;
  await listen();
  publisher = await mqtt.connectAsync(`mqtt://127.0.0.1:${port}`, { clientId: 'publisher' });
});

afterEach(async () => {
  for (const pipeline of opened.splice(0)) await pipeline.close().catch(() => {});
  await publisher.endAsync(true);
  await new Promise<void>((resolve) => broker.close(() => resolve()));
  server.close();
  rmSync(folder, { recursive: true });
});

function options(change: Partial<PipelineOptions> = {}): PipelineOptions {
  return {
    storeFile: join(folder, 'store.sqlite'),
    broker: { host: '127.0.0.1', port, username: null, password: null, clientId: 'pipeline' },
    subscriptions: [
      { filter: 'crates/+/status', decode: null },
      { filter: 'crates/#', decode: decoderFor('plain') },
    ],
    batch: PROMPT_BATCH,
    ...change,
  };
}

async function start(change: Partial<PipelineOptions> = {}): Promise<ReferencePipeline> {
  const pipeline = await ReferencePipeline.start(options(change));
  opened.push(pipeline);
  return pipeline;
}

async function publish(value: unknown, topic = 'crates/0/readings', qos: 0 | 1 | 2 = 1): Promise<void> {
  const payload = typeof value === 'string' ? value : JSON.stringify(value);
  await publisher.publishAsync(topic, payload, { qos });
}

function query(change: Partial<ExportQuery> = {}): ExportQuery {
  return {
    fromMs: AT,
    toMs: AT + 3_600_000,
    file: join(folder, 'out.csv'),
    columns: COLUMNS,
    order: [],
    csv: CSV,
    ...change,
  };
}

const lines = (file: string): string[] => readFileSync(file, 'utf8').split('\r\n').slice(0, -1);

describe('the reference pipeline', () => {
  it('stores what comes at QoS 0, 1 and 2, batches unpacked, and exports it', async () => {
    const pipeline = await start();
    await publish(reading(0), 'crates/0/readings', 0);
    await publish(reading(1), 'crates/0/readings', 1);
    await publish([reading(2), reading(3)], 'crates/0/readings', 2);
    await expect.poll(() => pipeline.counts()).toMatchObject({ stored: 4, messages: 3, pending: 0 });
    expect(await pipeline.exportCsv(query())).toEqual({ rows: 4 });
    expect(lines(join(folder, 'out.csv')).slice(0, 2)).toEqual([
      'tracker,name,boot,seq,time,lat,lon,course,kmh',
      '004999010640000,"crate ""7"", Ostrel",1,0,2031-03-03T00:00:00.000Z,-38.4000000,-14.2000001,,0.0',
    ]);
    expect(readdirSync(folder).filter((name) => name.endsWith('.part'))).toEqual([]);
  });

  it('collapses repeats, and refuses a repeat that says something else', async () => {
    const pipeline = await start();
    await publish(reading(0));
    await publish(reading(0), 'crates/0/readings', 2);
    await publish([reading(1), reading(1), reading(1, { airTempC: 5 })]);
    await publish(reading(0, { boot: 2 }));
    await expect
      .poll(() => pipeline.counts())
      .toMatchObject({ stored: 3, collapsed: 2, rejected: 1, pending: 0 });
    const file = join(folder, 'rejects.csv');
    expect(await pipeline.exportRejects(file)).toEqual({ rows: 1 });
    expect(lines(file)[1]).toMatch(/,"crates\/0\/readings","conflicting repeat: .*004999010640000/);
  });

  it('tells repeats from conflicts in batches larger than one call into the store', async () => {
    const pipeline = await start();
    const many = Array.from({ length: 45 }, (_, i) => reading(i));
    await publish(many);
    await publish(many.map((r, i) => (i % 10 === 3 ? { ...r, batteryV: 3.1 } : r)));
    await expect.poll(() => pipeline.counts()).toMatchObject({ stored: 45, collapsed: 40, rejected: 5 });
  });

  it('keeps what it refuses, with the reason; the good readings of a payload are taken', async () => {
    // A decoder that checks nothing: the pipeline has to.
    const trusting = (payload: Uint8Array): WireReading[] =>
      JSON.parse(String(Buffer.from(payload))) as WireReading[];
    const pipeline = await start({ subscriptions: [{ filter: 'crates/#', decode: trusting }] });
    const { seq: _, ...incomplete } = reading(5);
    const bad: [string, WireReading][] = [
      ['latDeg 90.5 is not from -90 to 90 deg', reading(1, { latDeg: 90.5 })],
      ['batteryV is null', reading(1, { batteryV: null })],
      ['boot 1.5 is not whole', reading(1, { boot: 1.5 })],
      ['airTempC is not a number', reading(1, { airTempC: '4.25' })],
      ['label is not text', reading(1, { label: 7 })],
      [
        'at "2031-02-29T00:00:00.000Z" is not RFC 3339 in UTC',
        reading(1, { at: '2031-02-29T00:00:00.000Z' }),
      ],
      ['at "2031-03-03T00:00:00" is not RFC 3339 in UTC', reading(1, { at: '2031-03-03T00:00:00' })],
      ['at "2031-03-03T24:00:00Z" is not RFC 3339 in UTC', reading(1, { at: '2031-03-03T24:00:00Z' })],
      ['seq is missing', incomplete],
    ];
    await publish([reading(0), ...bad.map(([, r]) => r)]);
    await publish('not JSON');
    await publish('[]');
    await expect
      .poll(() => pipeline.counts())
      .toMatchObject({ stored: 1, rejected: bad.length + 2, pending: 0 });
    const file = join(folder, 'rejects.csv');
    await pipeline.exportRejects(file);
    const reasons = readFileSync(file, 'utf8').replaceAll('""', "'");
    for (const [i, [reason]] of bad.entries()) {
      expect(reasons).toContain(`"reading ${i + 2} of ${bad.length + 1}: ${reason.replaceAll('"', "'")}"`);
    }
    expect(reasons).toContain('"the payload holds no reading"');
    expect(reasons).toMatch(/not valid JSON",8,"not JSON",/);
  });

  it('lets stored copies and status messages go', async () => {
    await publisher.publishAsync('crates/0/readings', JSON.stringify(reading(0)), { qos: 1, retain: true });
    const pipeline = await start();
    await publish('online', 'crates/0/status');
    await publish(reading(1));
    await expect
      .poll(() => pipeline.counts())
      .toMatchObject({
        messages: 3,
        retainedIgnored: 1,
        statusIgnored: 1,
        stored: 1,
        rejected: 0,
      });
  });

  it('acknowledges after the commit, not before', async () => {
    const pipeline = await start({ batch: { rows: 3, ms: 3_600_000 } });
    await publish(reading(0));
    await publish(reading(1), 'crates/0/readings', 2);
    await expect.poll(() => pipeline.counts()).toMatchObject({ pending: 2, stored: 0 });
    // A round trip through the broker, behind any ack that the pipeline might have sent.
    await publish('x', 'elsewhere');
    expect(acks).toBe(0);
    await publish(reading(2));
    await expect.poll(() => acks).toBe(3);
    expect(await pipeline.counts()).toMatchObject({ pending: 0, stored: 3, commits: 1 });
    await publish(reading(3));
    await expect.poll(() => pipeline.counts()).toMatchObject({ pending: 1 });
    await pipeline.flush();
    expect(await pipeline.counts()).toMatchObject({ pending: 0, stored: 4 });
  });

  it('gets over broken connections: unacknowledged messages come again and collapse', async () => {
    const pipeline = await start({ batch: { rows: 1000, ms: 3_600_000 } });
    await publish(reading(0));
    await expect.poll(() => pipeline.counts()).toMatchObject({ pending: 1 });
    for (const socket of sockets) socket.destroy();
    await expect
      .poll(() => pipeline.counts(), { timeout: 20_000 })
      .toMatchObject({ reconnects: 1, pending: 2 });
    await publish(reading(1));
    await expect.poll(() => pipeline.counts()).toMatchObject({ pending: 3 });
    await pipeline.flush();
    expect(await pipeline.counts()).toMatchObject({ stored: 2, collapsed: 1, rejected: 0 });
  });

  it('gets what was published while it was away', async () => {
    await (await start()).close();
    await publish(reading(0));
    await publish(reading(1), 'crates/0/readings', 2);
    const again = await start();
    await expect.poll(() => again.counts()).toMatchObject({ rowsInStore: 2 });
  });

  it('crashes amid a batch, and loses nothing of it nor of what came while it was down', async () => {
    const pipeline = await start({ batch: { rows: 1000, ms: 3_600_000 } });
    await publish(reading(0));
    await publish(reading(1), 'crates/0/readings', 2);
    await expect.poll(() => pipeline.counts()).toMatchObject({ pending: 2 });
    await pipeline.crash();
    expect(await pipeline.counts()).toMatchObject({ pending: 0, stored: 0, rowsInStore: 0 });
    await publish(reading(2));
    await publish(reading(3), 'crates/0/readings', 2);
    await pipeline.resume();
    await expect.poll(() => pipeline.counts()).toMatchObject({ pending: 4 });
    await pipeline.flush();
    expect(await pipeline.counts()).toMatchObject({ messages: 4, stored: 4, collapsed: 0, pending: 0 });
  });

  it('says what hinders it', async () => {
    await expect(start({ storeFile: join(folder, 'none', 'store.sqlite') })).rejects.toThrow(NotCompleted);
    const nobody = { ...options().broker, port: 1 };
    await expect(start({ broker: nobody })).rejects.toThrow(/^broker 127\.0\.0\.1:1: .*ECONNREFUSED/);
    broker.authenticate = (_client, _username, _password, done) => done(null, false);
    await expect(start()).rejects.toThrow(/refused: /);
  });
});

describe('an export', () => {
  it('holds [from, to) in the order asked for, and neighbours join without gap or overlap', async () => {
    const pipeline = await start();
    await publish(Array.from({ length: 10 }, (_, i) => reading(9 - i)));
    await expect.poll(() => pipeline.counts()).toMatchObject({ stored: 10 });
    const seqs = async (
      fromMs: number,
      toMs: number,
      order: ExportQuery['order'] = [],
    ): Promise<number[]> => {
      await pipeline.exportCsv(query({ fromMs, toMs, order, columns: [number('n', 'seq', 0)] }));
      return lines(join(folder, 'out.csv')).slice(1).map(Number);
    };
    expect(await seqs(AT, AT + 5000)).toEqual([0, 1, 2, 3, 4]);
    expect(await seqs(AT + 5000, AT + 9001)).toEqual([5, 6, 7, 8, 9]);
    expect(await seqs(AT + 1, AT + 2000)).toEqual([1]);
    expect(await seqs(AT, AT)).toEqual([]);
    expect(await seqs(AT, AT + 3000, [{ column: 'n', direction: 'falling' }])).toEqual([2, 1, 0]);
  });

  it('sees one state of the store, whatever is committed meanwhile', () => {
    const file = join(folder, 'store.sqlite');
    const store = new Store(file);
    const add = (seqs: readonly number[]): void => {
      const rows = seqs.map((seq) => rowOf(reading(seq))).filter((row) => typeof row !== 'string');
      store.commit(() => store.addReadings(rows, AT));
    };
    add([0, 2, 4, 6]);
    const seen: unknown[] = [];
    for (const [seq] of readStore(file, 'SELECT seq FROM readings ORDER BY at_ms, id, boot, seq', [])) {
      if (seen.length === 0) add([1, 3, 8]);
      seen.push(seq);
    }
    expect(seen).toEqual([0, 2, 4, 6]);
    expect(store.sizes().readings).toBe(7);
    store.close();
  });

  it('refuses unknown fields and leaves nothing half written', async () => {
    const pipeline = await start();
    const wrong = pipeline.exportCsv(query({ columns: [text('x', 'tyrePressure')] }));
    await expect(wrong).rejects.toThrow(BadInput);
    await expect(
      pipeline.exportCsv(query({ order: [{ column: 'nowhere', direction: 'rising' }] })),
    ).rejects.toThrow(BadInput);
    await expect(pipeline.exportCsv(query({ file: join(folder, 'none', 'x.csv') }))).rejects.toThrow(
      NotCompleted,
    );
    expect(readdirSync(folder).filter((name) => name.includes('csv'))).toEqual([]);
  });
});

// tsx reads TypeScript in the child, as it does for the command line in a checkout.
const EXEC_ARGV = ['--import', 'tsx'];

describe('the pipeline in a process of its own', () => {
  const hostedOptions = (): Parameters<typeof HostedPipeline.start>[0] => ({
    ...options(),
    subscriptions: [
      { filter: 'crates/+/status', payload: null },
      { filter: 'crates/#', payload: 'plain' },
    ],
  });
  const host = async (): Promise<HostedPipeline> => {
    const pipeline = await HostedPipeline.start(hostedOptions(), EXEC_ARGV);
    opened.push(pipeline);
    return pipeline;
  };

  it('works as the one in this process does', async () => {
    const pipeline = await host();
    await publish(reading(0));
    await publish('nonsense');
    await expect.poll(() => pipeline.counts()).toMatchObject({ stored: 1, rejected: 1 });
    await pipeline.flush();
    expect(await pipeline.exportCsv(query({ fromMs: -Infinity, toMs: Infinity }))).toEqual({ rows: 1 });
    expect(await pipeline.exportRejects(join(folder, 'rejects.csv'))).toEqual({ rows: 1 });
    await expect(pipeline.exportCsv(query({ columns: [text('x', 'tyrePressure')] }))).rejects.toThrow(
      BadInput,
    );
    await pipeline.close();
    await expect(pipeline.counts()).rejects.toThrow('exit code 0');
  });

  it('killed amid the stream, loses nothing that it acknowledged, and gets the rest', async () => {
    const N = 1500;
    const first = await host();
    const sent: Promise<void>[] = [];
    for (let seq = 0; seq < N; seq += 1)
      sent.push(publish(reading(seq), 'crates/0/readings', seq % 2 === 0 ? 1 : 2));
    await expect.poll(() => acked.length, { interval: 1 }).toBeGreaterThan(200);
    await first.kill();
    const ackedBefore = acked.length;
    expect(ackedBefore).toBeLessThan(N);
    const kept = new Set([...readStore(join(folder, 'store.sqlite'), 'SELECT seq FROM readings', [])].flat());
    const lost = acked
      .map((payload) => (JSON.parse(payload) as WireReading)['seq'])
      .filter((seq) => !kept.has(seq));
    expect(lost).toEqual([]);
    await expect(first.counts()).rejects.toThrow(/the pipeline's process ended \(SIGKILL\)/);
    await Promise.all(sent);

    const second = await host();
    await expect
      .poll(() => second.counts(), { timeout: 30_000 })
      .toMatchObject({ rowsInStore: N, pending: 0 });
    expect(await second.exportCsv(query({ columns: [number('n', 'seq', 0)] }))).toEqual({ rows: N });
    expect(lines(join(folder, 'out.csv')).slice(1).map(Number)).toEqual(
      Array.from({ length: N }, (_, i) => i),
    );
    expect(await second.counts()).toMatchObject({ rejected: 0 });
  });

  it('that cannot start says why, with its last words', async () => {
    await expect(
      HostedPipeline.start({ ...hostedOptions(), broker: { ...options().broker, port: 1 } }, EXEC_ARGV),
    ).rejects.toThrow(/^broker 127\.0\.0\.1:1: /);
    await expect(HostedPipeline.start(hostedOptions(), ['--require', './nothing-there.cjs'])).rejects.toThrow(
      /ended \(exit code 1\); its last words: .*nothing-there/,
    );
  });
});
