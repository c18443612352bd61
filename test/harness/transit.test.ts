// From the publisher to the broker, and what the pipeline refused.
import { describe, expect, it } from 'vitest';
import { checkRejects } from '../../harness/checks/rejects.ts';
import { checkBrokerKeeps, checkBrokerOrder } from '../../harness/checks/transit.ts';
import type { AtTap, TrackerAtTap } from '../../harness/expected/reconcile.ts';
import { RangeSet, rosterOf, type LedgerRecord } from '../../sim/index.ts';
import { scenarioOf } from '../support/scenarios.ts';

const [spec] = rosterOf(
  scenarioOf({
    seed: 'transit',
    lasts: '1min',
    fleet: [{ name: 'one', count: 1, labels: ['a'], motion: { kind: 'parked', at: 'ostrel-quay' } }],
  }),
);
if (!spec) throw new Error('an empty fleet');
const id = spec.identity.imei;

const set = (text: string) => RangeSet.parse(text) ?? new RangeSet();

function ledger(acked: string): LedgerRecord {
  const sets = {
    attempted: set('0-9'),
    again: set(''),
    written: set(''),
    acked: set(acked),
    refused: set(''),
  };
  return {
    header: undefined,
    closed: true,
    trackers: new Map([[id, { sets, attempts: undefined, acks: undefined }]]),
    links: [],
    delay: undefined,
    outcome: () => 'unknown',
  };
}

function tap(accepted: string, more: Partial<AtTap> = {}, tracker: Partial<TrackerAtTap> = {}): AtTap {
  const at: TrackerAtTap = {
    spec: spec as TrackerAtTap['spec'],
    accepted: set(accepted),
    redelivered: 0,
    disordered: 0,
    firstDisorder: undefined,
    wills: 0,
    again: new RangeSet(),
    arrivals: [],
    ...tracker,
  };
  return {
    trackers: new Map([[id, at]]),
    messages: 10,
    strange: [],
    strangeCount: 0,
    complete: true,
    ...more,
  };
}

describe('the broker keeps what it acknowledged', () => {
  it('held where all of it is at the tap; what was not acknowledged may be there or not', () => {
    expect(checkBrokerKeeps(ledger('0-5'), tap('0-7'))).toMatchObject({ outcome: 'held', looked: 6 });
  });

  it('broken where a message was acked and is not at the tap', () => {
    expect(checkBrokerKeeps(ledger('0-5'), tap('0-2,4-5'))).toMatchObject({
      outcome: 'broken',
      looked: 6,
      findings: [
        {
          hop: 'broker',
          count: 1,
          trackers: 1,
          examples: [{ tracker: id, found: 'message 3 acked, not at the tap' }],
        },
      ],
    });
    expect(checkBrokerKeeps(ledger('0-5'), tap('', { trackers: new Map() })).findings[0]?.count).toBe(6);
  });

  it('broken where messages came that nobody sent; all are counted', () => {
    const message = { client: 'x', topic: 't', bytes: 3 };
    const strange = Array.from({ length: 20 }, () => message);
    expect(checkBrokerKeeps(ledger('0-5'), tap('0-5', { strange, strangeCount: 57 }))).toMatchObject({
      outcome: 'broken',
      findings: [
        { hop: 'network', count: 57, examples: Array.from({ length: 5 }, () => ({ found: '3 bytes on t' })) },
      ],
    });
  });

  it('not seen where the tap was cut short: what is missing there may have been accepted', () => {
    const check = checkBrokerKeeps(ledger('0-5'), tap('0-2', { complete: false }));
    expect(check).toMatchObject({ outcome: 'not-seen', looked: 0, findings: [] });
    expect(check.words).toMatch(/breaks off/);
    const strange = [{ client: 'x', topic: 't', bytes: 3 }];
    expect(
      checkBrokerKeeps(ledger('0-5'), tap('0-2', { complete: false, strange, strangeCount: 1 })).outcome,
    ).toBe('broken');
  });

  it('not seen without a tap, a ledger, or an acknowledgement (QoS 0 has none)', () => {
    expect(checkBrokerKeeps(ledger('0-5'), undefined).outcome).toBe('not-seen');
    expect(checkBrokerKeeps(undefined, tap('0-5')).outcome).toBe('not-seen');
    expect(checkBrokerKeeps(ledger(''), tap('0-5'))).toMatchObject({
      outcome: 'not-seen',
      words: 'nothing was acknowledged',
    });
  });
});

describe('the order of first copies', () => {
  it('held, broken with its count, or not seen', () => {
    expect(checkBrokerOrder(tap('0-5'))).toMatchObject({ outcome: 'held', looked: 6 });
    expect(
      checkBrokerOrder(tap('0-5', {}, { disordered: 2, firstDisorder: { n: 1, after: 3 } })),
    ).toMatchObject({
      outcome: 'broken',
      findings: [{ count: 2, trackers: 1, examples: [{ found: 'message 1 after message 3' }, {}] }],
    });
    expect(checkBrokerOrder(tap('')).outcome).toBe('not-seen');
    expect(checkBrokerOrder(undefined).outcome).toBe('not-seen');
  });
});

describe('rejects', () => {
  const refused = { topic: 't', reason: 'not JSON' };

  it('none, or no more than the strange and the late messages', () => {
    expect(checkRejects([], 10, 0)).toMatchObject({ outcome: 'held', looked: 10 });
    expect(checkRejects([refused], 10, 1).outcome).toBe('held');
    expect(checkRejects([refused, refused], 10, 1, 1).outcome).toBe('held');
  });

  it('of a valid message', () => {
    expect(checkRejects([refused, refused, refused], 10, 1)).toMatchObject({
      outcome: 'broken',
      findings: [{ what: 'valid messages were refused', count: 2 }],
    });
  });

  it('without a reason', () => {
    expect(checkRejects([{ topic: 't', reason: ' ' }], 10, 1)).toMatchObject({
      outcome: 'broken',
      findings: [{ what: 'refused messages have no reason', count: 1 }],
    });
  });

  it('not seen without a list, a message, or a tap that tells what was refused', () => {
    expect(checkRejects(undefined, 10, 0).outcome).toBe('not-seen');
    expect(checkRejects([], 0, 0).outcome).toBe('not-seen');
    expect(checkRejects([refused], 10, undefined).outcome).toBe('not-seen');
  });
});
