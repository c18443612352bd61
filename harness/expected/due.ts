// What the evidence says of each emission, as the expected set asks it.
import type { Emission, RangeSet, Reading, TrackerSpec } from '../../sim/index.ts';
import type { DueOf } from './expected.ts';

/** Which emissions of a tracker got how far; numbers are the emissions' `n`. */
export interface Delivery {
  /** Attempted by the publisher. */
  readonly attempted: RangeSet;
  /** Acknowledged by the broker (QoS 1 and 2). */
  readonly acked: RangeSet;
  /** Seen at the tap; undefined without one. */
  readonly accepted: RangeSet | undefined;
}

/** The terms under which the evidence is read. */
export interface DueTerms {
  /** Readings older than this when they were sent may be refused. */
  readonly latenessMs: number;
  /** Whether the pipeline's own connection held all the time; where it didn't, QoS 0 owes nothing (MQTT 3.1.1, 4.3.1). */
  readonly heardAll: boolean;
  /** Whether the ledger is whole: only then does what it doesn't name count as never sent. */
  readonly ledgerWhole: boolean;
}

/**
 * The rule: what the broker was seen to accept must come out; what was attempted may; the rest never left.
 * Without a tap the acknowledgement stands for it, and a QoS 0 message, which has none, is a `may`; so is one that
 * the broker took and the pipeline may not have been there for.
 * A reading older than the contract's lateness when it was sent may be refused.
 */
export function dueByEvidence(
  deliveries: ReadonlyMap<string, Delivery>,
  { latenessMs, heardAll, ledgerWhole }: DueTerms,
): DueOf {
  return (spec: TrackerSpec, emission: Emission, reading: Reading) => {
    const delivery = deliveries.get(spec.identity.imei);
    const arrived = (delivery?.accepted ?? delivery?.acked)?.has(emission.n) === true;
    // Asked only then: what the broker has did leave, even where the ledger was cut short.
    if (!arrived) return !ledgerWhole || delivery?.attempted.has(emission.n) === true ? 'may' : 'never';
    if (emission.qos === 0 && !heardAll) return 'may';
    return emission.atMs - reading.atMs > latenessMs ? 'may' : 'must';
  };
}

/** Without any evidence of the way: everything the trackers sent is taken as accepted. */
export const DUE_ON_TRUST: DueOf = () => 'must';
