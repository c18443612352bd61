// The same messages by our publisher and by MQTT.js, to the same broker: the tap must not see a difference.
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { connectAsync } from 'mqtt';
import { expect, it } from 'vitest';
import { startBroker, type Broker } from '../../sim/broker/embedded.ts';
import { readTap, Tap } from '../../sim/broker/tap.ts';
import { TrackerClient } from '../../sim/publish/client.ts';
import type { Qos } from '../../sim/scenario/scenario.ts';
import { clientOptions, Recorder } from '../sim/publish-support.ts';

interface Message {
  readonly topic: string;
  readonly payload: Buffer;
  readonly qos: Qos;
  readonly retain: boolean;
}

const TOPICS = ['isles/ñandú/readings', 'isles/🚲', '/'];
const MESSAGES: readonly Message[] = ([0, 1, 2] as const).flatMap((qos) =>
  TOPICS.flatMap((topic) =>
    // Around the sizes where the remaining length takes another byte, and around a slab.
    [0, 1, 100, 127, 128, 16_300, 16_384, 70_000].map((size) => ({
      topic,
      payload: Buffer.alloc(size, `${qos}${topic}${size}`),
      qos,
      retain: size % 2 === 1,
    })),
  ),
);

async function tapped(publishAll: (broker: Broker) => Promise<void>): Promise<unknown[]> {
  const folder = await mkdtemp(join(tmpdir(), 'wayproof-interop-'));
  const file = join(folder, 'tap.ndjson');
  const tap = await Tap.open(file);
  const broker = await startBroker({ tap, authorise: () => ({ publish: TOPICS, subscribe: [] }) });
  try {
    await publishAll(broker);
  } finally {
    await broker.close();
    await tap.close();
  }
  const reader = readTap(file);
  const records: unknown[] = [];
  for await (const { client, topic, qos, retain, dup, bytes, sha256 } of reader) {
    records.push({ client, topic, qos, retain, dup, bytes, sha256 });
  }
  expect(reader.complete).toBe(true);
  await rm(folder, { recursive: true });
  return records;
}

it('every QoS, size, retain flag and script looks the same at the tap', async () => {
  const ours = await tapped(async (broker) => {
    const told = new Recorder();
    const client = new TrackerClient(clientOptions(broker.port, { inFlight: 1 }), told);
    client.connect();
    for (const [n, { topic, payload, qos, retain }] of MESSAGES.entries()) {
      await told.until(() => client.publish(n, topic, payload, qos, retain, 0));
    }
    const confirmed = MESSAGES.filter(({ qos }) => qos > 0).length;
    await told.until(() => told.of('acked').length === confirmed);
    await client.close();
  });
  const theirs = await tapped(async (broker) => {
    const client = await connectAsync({ host: broker.host, port: broker.port, clientId: 'tracker-a' });
    for (const { topic, payload, qos, retain } of MESSAGES) {
      await client.publishAsync(topic, payload, { qos, retain });
    }
    await client.endAsync();
  });
  expect(ours.length).toBe(MESSAGES.length);
  expect(ours).toEqual(theirs);
});
