// The way from the publisher to the broker, judged apart, so that the pipeline isn't blamed for it.
import { RangeSet, type LedgerRecord } from '../../sim/index.ts';
import type { AtTap } from '../expected/reconcile.ts';
import { Collector } from '../verdict/collector.ts';
import type { CheckResult } from '../verdict/verdict.ts';
import { notSeen, result, type CheckAbout } from './check.ts';

export const BROKER_KEEPS: CheckAbout = {
  id: 'ingest.broker',
  family: 'ingest',
  promise: 'the broker accepted every message that it acknowledged, bytes unchanged',
  proves: 'each message acked at QoS 1 or 2 was seen at the tap with the SHA-256 of what was sent',
  cannotProve: 'that the broker passed it on; the rows tell that',
};

export const BROKER_ORDER: CheckAbout = {
  id: 'ordering.broker',
  family: 'ordering',
  promise:
    'first copies reach the broker in the order they were sent, per tracker and topic (MQTT 3.1.1, 4.6)',
  proves: 'no first copy came after a later message of the same tracker and topic',
  cannotProve: 'the order in which the broker hands them on',
};

const NO_TAP = 'there was no tap on the broker';

export function checkBrokerKeeps(ledger: LedgerRecord | undefined, tap: AtTap | undefined): CheckResult {
  if (!tap) return notSeen(BROKER_KEEPS, NO_TAP);
  if (!ledger) return notSeen(BROKER_KEEPS, 'there is no ledger of acknowledgements');
  const lost = new Collector('messages were acknowledged and never accepted as they were sent', 'broker');
  const strange = new Collector('messages under the fleet that no tracker sent', 'network');
  // The first few are kept, all are counted.
  for (let k = 0; k < tap.strangeCount; k++) {
    const message = tap.strange[k];
    strange.add(undefined, () =>
      message
        ? { tracker: message.client, found: `${message.bytes} bytes on ${message.topic}` }
        : { found: 'a message that was not kept' },
    );
  }
  if (!tap.complete) {
    return result(
      BROKER_KEEPS,
      0,
      'the record of the tap breaks off; what is not in it may have been accepted',
      strange.findings(),
    );
  }
  let acked = 0;
  for (const [id, record] of ledger.trackers) {
    const accepted = tap.trackers.get(id)?.accepted ?? new RangeSet();
    for (const n of record.sets.acked) {
      acked += 1;
      if (!accepted.has(n))
        lost.add(id, () => ({ tracker: id, found: `message ${n} acked, not at the tap` }));
    }
  }
  const words = acked === 0 ? 'nothing was acknowledged' : `${acked} acked messages`;
  return result(BROKER_KEEPS, acked, words, [...lost.findings(), ...strange.findings()]);
}

export function checkBrokerOrder(tap: AtTap | undefined): CheckResult {
  if (!tap) return notSeen(BROKER_ORDER, NO_TAP);
  const wrong = new Collector('messages came after one that was sent later', 'network');
  let seen = 0;
  for (const [id, tracker] of tap.trackers) {
    seen += tracker.accepted.size;
    for (let k = 0; k < tracker.disordered; k++) {
      wrong.add(id, () => ({
        tracker: id,
        found: `message ${tracker.firstDisorder?.n} after message ${tracker.firstDisorder?.after}`,
      }));
    }
  }
  return result(BROKER_ORDER, seen, `${seen} messages at the tap`, wrong.findings());
}
