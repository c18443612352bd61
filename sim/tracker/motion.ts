// How a tracker moves: parked, along a line of the place, or to and fro in an area of it.
import type { PlaceMap } from '../place/place.ts';
import { wrapLonDeg } from '../place/sphere.ts';
import type { RandomStream } from '../random.ts';
import type { MotionPlan } from '../scenario/scenario.ts';
import { roamMotion } from './motion-roam.ts';
import { routeMotion } from './motion-route.ts';
import type { Motion, MotionState } from './motion-state.ts';

export type { Motion, MotionState } from './motion-state.ts';

/**
 * The movement of one tracker.
 * `member` is the tracker's number in its group, from 0; `random` is drawn from by `roam` alone.
 * Ids are taken as checked: one that the place doesn't have is an Error.
 */
export function createMotion(
  plan: MotionPlan,
  place: PlaceMap,
  startMs: number,
  member: number,
  random: RandomStream,
): Motion {
  switch (plan.kind) {
    case 'parked':
      return parkedMotion(plan);
    case 'route': {
      const line = place.lines.get(plan.along);
      if (!line) throw new Error(`place ${place.name} has no line ${plan.along}`);
      return routeMotion(plan, line, startMs + member * plan.headwayMs);
    }
    case 'roam': {
      const area = place.areas.get(plan.within);
      if (!area) throw new Error(`place ${place.name} has no area ${plan.within}`);
      return roamMotion(plan, area, startMs, random);
    }
  }
}

function parkedMotion(plan: MotionPlan & { kind: 'parked' }): Motion {
  const state: MotionState = {
    lonDeg: wrapLonDeg(plan.lonDeg),
    latDeg: plan.latDeg,
    altM: plan.altM,
    speedMps: 0,
    courseDeg: 0,
    moving: false,
  };
  return { at: () => state };
}
