// Which periods to export: the whole, and windows whose edges fall exactly on a reading.
import { DAY_MS, rosterOf, trackerEvents, type Scenario } from '../../sim/index.ts';

export interface Period {
  readonly fromMs: number;
  readonly toMs: number;
}

/** From 1970, so that readings dated by an unset clock are in it, to well after any clock that runs ahead. */
export function wholePeriod(scenario: Scenario): Period {
  const ahead = scenario.faults.map((fault) => (fault.kind === 'clock-jump' ? Math.abs(fault.byMs) : 0));
  return { fromMs: 0, toMs: scenario.endMs + DAY_MS + Math.max(0, ...ahead) };
}

/** Neighbours that add up to the whole, then an empty one on an edge. */
export function windowPeriods(scenario: Scenario): Period[] {
  const whole = wholePeriod(scenario);
  const span = scenario.endMs - scenario.startMs;
  const edges = [1 / 3, 2 / 3]
    .map((share) => readingTimeAfter(scenario, scenario.startMs + share * span))
    .filter((edge) => edge !== undefined);
  const ends = [whole.fromMs, ...new Set(edges), whole.toMs];
  const neighbours = ends.slice(1).map((toMs, k) => ({ fromMs: ends[k] ?? whole.fromMs, toMs }));
  const edge = edges[0];
  return edge === undefined ? neighbours : [...neighbours, { fromMs: edge, toMs: edge }];
}

/** The first time measured by the fleet's first tracker at or after an instant. */
function readingTimeAfter(scenario: Scenario, atMs: number): number | undefined {
  const first = rosterOf(scenario)[0];
  if (!first) return undefined;
  for (const event of trackerEvents(scenario, first)) {
    if (event.kind !== 'emission') continue;
    for (const reading of event.readings) if (reading.atMs >= atMs) return reading.atMs;
  }
  return undefined;
}
