// All trackers' events in one stream, in order of virtual time; ties go by fleet order.
import type { Scenario } from '../scenario/scenario.ts';
import type { TrackerEvent } from '../tracker/event.ts';
import { rosterOf, type TrackerSpec } from '../tracker/roster.ts';
import { trackerEvents } from '../tracker/tracker.ts';
import { Heap } from './heap.ts';

export interface FleetEvent {
  readonly tracker: TrackerSpec;
  readonly event: TrackerEvent;
}

/** One part of a fleet: tracker k belongs to part k mod `of`. */
export interface Shard {
  readonly part: number;
  readonly of: number;
}

export const WHOLE: Shard = { part: 0, of: 1 };

/** The fleet's events, merged. The union of all shards is the whole. */
export function* fleetEvents(scenario: Scenario, shard: Shard = WHOLE): Generator<FleetEvent, void> {
  const roster = rosterOf(scenario).filter((spec) => spec.index % shard.of === shard.part);
  const lives = roster.map((spec) => trackerEvents(scenario, spec));
  const heads: (TrackerEvent | undefined)[] = [];
  const atMs = new Float64Array(roster.length);
  const heap = new Heap((a, b) => {
    const difference = (atMs[a] as number) - (atMs[b] as number);
    return difference < 0 || (difference === 0 && a < b);
  });
  const advance = (k: number): boolean => {
    const step = lives[k]?.next();
    heads[k] = step?.done === false ? step.value : undefined;
    atMs[k] = heads[k]?.atMs ?? Number.POSITIVE_INFINITY;
    return heads[k] !== undefined;
  };
  for (let k = 0; k < roster.length; k++) if (advance(k)) heap.push(k);
  for (let k = heap.peek(); k !== undefined; k = heap.peek()) {
    const event = heads[k];
    const tracker = roster[k];
    if (event === undefined || tracker === undefined) throw new Error('an empty head stays in no heap');
    yield { tracker, event };
    if (advance(k)) heap.sinkTop();
    else heap.pop();
  }
}
