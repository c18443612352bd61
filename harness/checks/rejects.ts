// What the pipeline refused, set against what it had reason to refuse.
import { Collector } from '../verdict/collector.ts';
import type { CheckResult } from '../verdict/verdict.ts';
import { notSeen, result, type CheckAbout } from './check.ts';

export const REJECTS: CheckAbout = {
  id: 'ingest.rejects',
  family: 'ingest',
  promise: 'no valid message is refused; what is refused is kept with its reason',
  proves: 'the pipeline refused no more than the messages that no tracker sent',
  cannotProve: 'anything about a pipeline that keeps no rejects',
};

/** One refused message, as the pipeline kept it. */
export interface Rejected {
  readonly topic: string;
  readonly reason: string;
}

/**
 * `strange`: messages at the broker that no tracker sent; undefined without a tap.
 * `late`: messages with a reading that the contract lets be refused for its age.
 */
export function checkRejects(
  rejects: readonly Rejected[] | undefined,
  accepted: number,
  strange: number | undefined,
  late = 0,
): CheckResult {
  if (!rejects) return notSeen(REJECTS, 'the pipeline gives no list of what it refused');
  const refused = new Collector('valid messages were refused', 'consumer');
  const unexplained = new Collector('refused messages have no reason', 'consumer');
  if (strange === undefined && rejects.length > 0) {
    return notSeen(REJECTS, `${rejects.length} refused; without a tap nobody can say what they were`);
  }
  for (const { topic, reason } of rejects.slice((strange ?? 0) + late)) {
    refused.add(undefined, () => ({ found: `${topic}: ${reason}` }));
  }
  for (const { topic, reason } of rejects) {
    if (reason.trim() === '') unexplained.add(undefined, () => ({ found: topic }));
  }
  return result(REJECTS, accepted, `${rejects.length} refused of ${accepted} messages`, [
    ...refused.findings(),
    ...unexplained.findings(),
  ]);
}
