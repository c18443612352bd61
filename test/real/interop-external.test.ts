// The fleet publisher against a broker that isn't ours, where one is given:
// WAYPROOF_TEST_BROKER=host:port, which must take anonymous clients. Skipped without one.
import { connectAsync } from 'mqtt';
import { expect, it } from 'vitest';
import type { FleetStep } from '../../sim/publish/lane.ts';
import { Ledger } from '../../sim/publish/ledger.ts';
import { publishFleet } from '../../sim/publish/publish-fleet.ts';
import type { DropHow, Qos } from '../../sim/scenario/scenario.ts';
import { Happenings } from '../sim/publish-support.ts';

const [host = '', port = ''] = (process.env['WAYPROOF_TEST_BROKER'] ?? '').split(':');
const ROOT = `wayproof-test-${process.pid}`;

function* stepsOf(tracker: number, qos: Qos): Generator<FleetStep, void> {
  const trackerId = `${ROOT}-${tracker}`;
  const topic = `${ROOT}/${tracker}`;
  let n = 0;
  for (const how of ['reset', 'half-open', 'clean'] satisfies DropHow[]) {
    yield { tracker, trackerId, event: { kind: 'connect', atMs: 0 }, payload: undefined };
    for (let k = 0; k < 40; k++, n++) {
      yield {
        tracker,
        trackerId,
        event: {
          kind: 'emission',
          atMs: 0,
          n,
          purpose: 'readings',
          topic,
          qos,
          retain: false,
          readings: [],
          repeat: false,
          boot: 1,
        },
        payload: Buffer.from(String(n)),
      };
    }
    yield { tracker, trackerId, event: { kind: 'disconnect', atMs: 0, how }, payload: undefined };
  }
}

it.skipIf(port === '').each([1, 2] as const)(
  'QoS %i through a reset and a half-open link: all acked, none lost, first copies in order',
  async (qos) => {
    const seen = new Happenings();
    const heard = new Map<string, number[]>();
    const subscriber = await connectAsync({ host, port: Number(port), clientId: `${ROOT}-subscriber` });
    subscriber.on('message', (topic, payload) => {
      heard.set(topic, [...(heard.get(topic) ?? []), Number(payload.toString())]);
      seen.happened();
    });
    await subscriber.subscribeAsync(`${ROOT}/#`, { qos: 2 });
    const trackers = [0, 1, 2, 3, 4];
    const ledger = await Ledger.open(undefined, { seed: 's', scenario: 'd' });
    const summary = await publishFleet({
      steps: trackers.flatMap((tracker) => [...stepsOf(tracker, qos)]),
      target: { host, port: Number(port) },
      clientFor: (tracker) => ({
        clientId: `${ROOT}-${tracker}`,
        keepAliveS: 60,
        cleanSession: false,
        inFlight: 8,
        backOffFirstMs: 10,
        backOffLastMs: 100,
        connectTimeoutMs: 10_000,
      }),
      pace: 'full',
      ledger,
      startMs: 0,
      drainTimeoutMs: 20_000,
    });
    await ledger.close();
    expect(summary.totals).toMatchObject({ attempted: 600, acked: 600, refused: 0 });
    const all = Array.from({ length: 120 }, (_, n) => n);
    const firsts = (tracker: number) => [...new Set(heard.get(`${ROOT}/${tracker}`))];
    await seen.until(() => trackers.every((tracker) => firsts(tracker).length === 120));
    for (const tracker of trackers) {
      expect(firsts(tracker)).toEqual(all);
      // Exactly once is what QoS 2 in a session that goes on is for (4.3.3).
      if (qos === 2) expect(heard.get(`${ROOT}/${tracker}`)).toEqual(all);
    }
    // Leaves no session behind.
    for (const tracker of trackers) {
      const cleaner = await connectAsync({
        host,
        port: Number(port),
        clientId: `${ROOT}-${tracker}`,
        clean: true,
      });
      await cleaner.endAsync();
    }
    await subscriber.endAsync();
  },
);
