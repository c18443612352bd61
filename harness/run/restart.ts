// A crash of the pipeline in the middle of a run, while messages keep coming.
import { setTimeout as wait } from 'node:timers/promises';
import { fleetEvents, type Scenario } from '../../sim/index.ts';
import type { Pipeline } from '../pipeline/pipeline.ts';

/**
 * When it goes down and when it comes back, as shares of the messages that the trackers send: it goes by what it
 * has taken itself, so that messages of QoS 0, which the broker doesn't keep, are through if they were sent early.
 */
const DOWN_AT = 0.5;
const BACK_AT = 0.6;
const POLL_MS = 2;

/** `total`: messages to come; `accepted`: at the broker so far. Resolves once the pipeline is back. */
export async function crashMidway(
  pipeline: Pipeline,
  total: number,
  accepted: () => number,
  publishing: Promise<unknown>,
): Promise<void> {
  const end = new AbortController();
  const over = () => end.signal.aborted;
  void publishing.finally(() => end.abort()).catch(() => {});
  while (!over() && (await pipeline.counts()).messages < DOWN_AT * total) await wait(POLL_MS);
  await pipeline.crash();
  while (!over() && accepted() < BACK_AT * total) await wait(POLL_MS);
  await pipeline.resume();
}

/** How many messages with readings the trackers send. */
export function messagesOf(scenario: Scenario): number {
  let count = 0;
  for (const { event } of fleetEvents(scenario)) {
    if (event.kind === 'emission' && event.purpose === 'readings') count += 1;
  }
  return count;
}
