// A tap set against the emissions of its scenario.
import { describe, expect, it } from 'vitest';
import { PayloadsValid } from '../../harness/checks/payloads.ts';
import { reconcileTap } from '../../harness/expected/reconcile.ts';
import {
  emissionPayload,
  payloadDigest,
  rosterOf,
  trackerEvents,
  willPayload,
  type Emission,
  type TapRecord,
  type TrackerSpec,
} from '../../sim/index.ts';
import { scenarioOf } from '../support/scenarios.ts';

const scenario = scenarioOf({
  seed: 'tap',
  lasts: '8min',
  fleet: [
    {
      name: 'crates',
      count: 2,
      labels: ['a'],
      motion: { kind: 'parked', at: 'ostrel-quay' },
      report: { every: '60s' },
    },
  ],
  faults: [{ kind: 'repeat-send', from: '0min', until: '4min', share: '1/1', on: 'everyone' }],
});

interface Message {
  readonly spec: TrackerSpec;
  readonly emission: Emission;
  readonly record: TapRecord;
}

function recordOf(spec: TrackerSpec, topic: string, payload: Uint8Array): TapRecord {
  return {
    ms: 0,
    client: spec.identity.imei,
    topic,
    qos: 1,
    retain: false,
    dup: false,
    bytes: payload.length,
    sha256: payloadDigest(payload),
  };
}

const messages: Message[] = rosterOf(scenario).flatMap((spec) =>
  [...trackerEvents(scenario, spec)]
    .filter((event) => event.kind === 'emission')
    .map((emission) => ({
      spec,
      emission,
      record: recordOf(spec, emission.topic, emissionPayload(spec, emission)),
    })),
);
const [first] = rosterOf(scenario);
const mine = messages.filter(({ spec }) => spec.identity.imei === first?.identity.imei);
const records = messages.map(({ record }) => record);

async function* stream(of: readonly TapRecord[]): AsyncGenerator<TapRecord> {
  yield* of;
}

async function reconciled(of: readonly TapRecord[]) {
  const tap = await reconcileTap(scenario, stream(of), () => {});
  const tracker = tap.trackers.get(first?.identity.imei ?? '');
  if (!tracker) throw new Error('the tracker is not at the tap');
  return { tap, tracker };
}

describe('a tap', () => {
  it('that saw every message once, trackers mixed', async () => {
    const mixed = [...records].toSorted((a, b) => (a.sha256 < b.sha256 ? -1 : 1));
    for (const order of [records, records.toReversed(), mixed]) {
      const { tap } = await reconciled(order);
      expect(tap).toMatchObject({ messages: records.length, strangeCount: 0, complete: true });
      for (const [id, { accepted, redelivered }] of tap.trackers) {
        const sent = messages
          .filter(({ spec }) => spec.identity.imei === id)
          .map(({ emission }) => emission.n);
        expect([...accepted]).toEqual(sent);
        expect(redelivered).toBe(0);
      }
    }
  });

  it('tells the order of first copies', async () => {
    expect((await reconciled(records)).tracker.disordered).toBe(0);
    const sent = mine.filter(
      ({ emission }) =>
        emission.readings.length > 0 && emission.atMs > (mine[0]?.emission.atMs ?? 0) + 240_000,
    );
    const [a, b, c] = sent;
    if (!a || !b || !c) throw new Error('too few messages');
    const { tracker } = await reconciled([b, c, a].map(({ record }) => record));
    expect(tracker.disordered).toBe(1);
    expect(tracker.firstDisorder).toEqual({ n: a.emission.n, after: c.emission.n });
  });

  it('counts redeliveries apart, identical repeats as messages of their own', async () => {
    const repeats = mine.filter(({ emission }) => emission.repeat);
    expect(repeats.length).toBeGreaterThan(1);
    const twice = mine.flatMap(({ record, emission }) => (emission.repeat ? [record, record] : [record]));
    const { tracker, tap } = await reconciled(twice);
    expect(tracker.accepted.size).toBe(mine.length);
    expect(tracker.redelivered).toBe(repeats.length);
    expect(tracker.disordered).toBe(0);
    expect(tap.strangeCount).toBe(0);
  });

  it('that saw one of two identical messages has one of them', async () => {
    const { tracker } = await reconciled(
      mine.filter(({ emission }) => !emission.repeat).map(({ record }) => record),
    );
    expect(tracker.accepted.size).toBe(mine.filter(({ emission }) => !emission.repeat).length);
  });

  it('redelivered after a broken link: not disorder', async () => {
    const kept = mine.slice(0, 6).map(({ record }) => record);
    const { tracker } = await reconciled([
      ...kept,
      ...kept.slice(3),
      ...mine.slice(6).map(({ record }) => record),
    ]);
    expect([tracker.accepted.size, tracker.redelivered, tracker.disordered]).toEqual([mine.length, 3, 0]);
  });

  it('knows wills, and does not take them for messages', async () => {
    if (!first) throw new Error('an empty fleet');
    const will = recordOf(first, first.statusTopic, willPayload(first));
    const { tracker, tap } = await reconciled([...records.slice(0, 3), will, ...records.slice(3), will]);
    expect([tracker.wills, tap.strangeCount]).toEqual([2, 0]);
    const misplaced = await reconciled([...records, { ...will, topic: first.readingsTopic }]);
    expect([misplaced.tracker.wills, misplaced.tap.strangeCount]).toEqual([0, 1]);
  });

  it('holds what no tracker sent: altered, on another topic, of a stranger', async () => {
    const [, , third] = mine;
    if (!third) throw new Error('too few messages');
    const altered = { ...third.record, sha256: payloadDigest('altered') };
    const elsewhere = { ...third.record, topic: 'elsewhere' };
    const { tap, tracker } = await reconciled(
      mine.flatMap(({ record }) => (record === third.record ? [altered, elsewhere] : [record])),
    );
    expect(tap.strange.map(({ topic }) => topic)).toEqual([third.record.topic, 'elsewhere']);
    expect(tracker.accepted.has(third.emission.n)).toBe(false);
    expect(tracker.accepted.size).toBe(mine.length - 1);
    expect(tracker.disordered).toBe(0);
  });

  it('keeps a few strange messages and counts them all', async () => {
    const many = Array.from({ length: 50 }, (_, k) => ({ ...records[0], topic: `t/${k}` }) as TapRecord);
    const { tap } = await reconciled(many);
    expect([tap.strangeCount, tap.strange.length]).toEqual([50, 20]);
  });

  it('says whether its record is complete', async () => {
    const cut = { complete: false, [Symbol.asyncIterator]: () => stream(records) };
    expect((await reconcileTap(scenario, cut, () => {})).complete).toBe(false);
  });
});

describe('payloads', () => {
  it('are counted only where the tap saw them', async () => {
    const check = new PayloadsValid();
    const seen = records.slice(0, 4);
    const tap = await reconcileTap(scenario, stream(seen), (...made) => check.take(...made));
    const looked = messages.slice(0, 4).filter(({ emission }) => emission.purpose === 'readings').length;
    expect(check.end(tap)).toMatchObject({ outcome: 'held', looked });
  });

  it('of status messages alone are nothing looked at', async () => {
    const check = new PayloadsValid();
    const status = messages
      .filter(({ emission }) => emission.purpose === 'status')
      .map(({ record }) => record);
    const tap = await reconcileTap(
      scenario,
      stream([...status, { ...records[0], topic: 'x' } as TapRecord]),
      (...made) => check.take(...made),
    );
    expect(check.end(tap)).toMatchObject({ outcome: 'not-seen', looked: 0 });
    expect(new PayloadsValid().end(undefined).outcome).toBe('not-seen');
  });

  it('that do not read are broken where they were accepted, and not elsewhere', async () => {
    const check = new PayloadsValid();
    const target = mine.find(({ emission }) => emission.readings.length > 0);
    if (!target) throw new Error('no message');
    const tap = await reconcileTap(scenario, stream(records), () => {});
    check.take(target.spec, target.emission, Buffer.from('{"id":1}'));
    expect(check.end(tap)).toMatchObject({ outcome: 'broken', findings: [{ count: 1, trackers: 1 }] });
    expect(check.end(await reconcileTap(scenario, stream([]), () => {})).outcome).toBe('not-seen');
  });
});
