// Movement along a line by a timetable: constant speed between stops, a pause at each stop and end.
// `start-over` on a line that isn't closed puts the vehicle back at its start at once, as a new trip.
import { arcsOf, onLine, onPiece, pieceAt } from '../place/line.ts';
import type { Line } from '../place/place.ts';
import type { MotionPlan } from '../scenario/scenario.ts';
import type { Motion, MotionState } from './motion-state.ts';

type RoutePlan = MotionPlan & { kind: 'route' };

/** One part of a cycle, [fromMs, untilMs) after its begin: a drive, or a pause (standing holds its state). */
interface Leg {
  readonly fromMs: number;
  readonly untilMs: number;
  readonly fromM: number;
  readonly toM: number;
  readonly standing: MotionState | undefined;
}

interface Timetable {
  readonly legs: readonly [Leg, ...Leg[]];
  readonly cycleMs: number;
  readonly speedMps: number;
  /** Before the start and, with `stay`, after the end. */
  readonly before: MotionState;
  readonly after: MotionState | undefined;
}

export function routeMotion(plan: RoutePlan, line: Line, departMs: number): Motion {
  const { legs, cycleMs, speedMps, before, after } = timetable(plan, line);
  const arcs = arcsOf(line);
  // Where the last call ended up. They only save searching: the state depends on the time alone.
  let leg = legs[0];
  let piece = 0;
  return {
    at(tMs) {
      const sinceMs = tMs - departMs;
      if (sinceMs < 0) return before;
      if (after && sinceMs >= cycleMs) return after;
      // Not `%`, which is slow on doubles; rounding can put the phase a hair outside the cycle.
      const phaseMs = Math.max(0, sinceMs - Math.floor(sinceMs / cycleMs) * cycleMs);
      if (phaseMs < leg.fromMs || phaseMs >= leg.untilMs) leg = legAt(legs, phaseMs);
      if (leg.standing) return leg.standing;
      const forward = leg.toM > leg.fromM;
      const goneM = (speedMps * (phaseMs - leg.fromMs)) / 1000;
      const alongM = forward ? Math.min(leg.fromM + goneM, leg.toM) : Math.max(leg.fromM - goneM, leg.toM);
      const marks = line.distancesM;
      if (!(alongM >= (marks[piece] ?? 0) && alongM < (marks[piece + 1] ?? 0))) piece = pieceAt(line, alongM);
      const { lonDeg, latDeg, altM, courseDeg } = onPiece(line, arcs, piece, alongM);
      return {
        lonDeg,
        latDeg,
        altM,
        speedMps,
        courseDeg: forward ? courseDeg : opposite(courseDeg),
        moving: true,
      };
    },
  };
}

const timetables = new WeakMap<Line, WeakMap<RoutePlan, Timetable>>();

/** One timetable serves all trackers of a group. */
function timetable(plan: RoutePlan, line: Line): Timetable {
  let ofLine = timetables.get(line);
  if (!ofLine) timetables.set(line, (ofLine = new WeakMap<RoutePlan, Timetable>()));
  let made = ofLine.get(plan);
  if (!made) ofLine.set(plan, (made = makeTimetable(plan, line)));
  return made;
}

function makeTimetable(plan: RoutePlan, line: Line): Timetable {
  const speedMps = Math.min(plan.speedMps, line.limitMps);
  if (!(speedMps > 0 && speedMps < Infinity && line.lengthM > 0)) {
    throw new Error(`route along ${line.id}: speed and length must be above 0`);
  }
  const outM = [0, ...line.stopsM, line.lengthM];
  const visitM = plan.then === 'turn-back' ? [...outM, ...outM.toReversed().slice(1)] : outM;
  const legs: Leg[] = [];
  let atMs = 0;
  for (const [i, toM] of visitM.slice(1).entries()) {
    const fromM = visitM[i] ?? 0;
    const arriveMs = atMs + (Math.abs(toM - fromM) / speedMps) * 1000;
    const leaveMs = arriveMs + plan.dwellMs;
    legs.push({ fromMs: atMs, untilMs: arriveMs, fromM, toM, standing: undefined });
    if (leaveMs > arriveMs) {
      const standing = standingAt(line, toM, toM > fromM);
      legs.push({ fromMs: arriveMs, untilMs: leaveMs, fromM: toM, toM, standing });
    }
    atMs = leaveMs;
  }
  const [first, ...rest] = legs;
  if (!first) throw new Error(`line ${line.id} has fewer than two points`);
  const before = standingAt(line, 0, true);
  const after = plan.then === 'stay' ? standingAt(line, line.lengthM, true) : undefined;
  return { legs: [first, ...rest], cycleMs: atMs, speedMps, before, after };
}

/** The last leg that has begun at this phase. */
function legAt(legs: Timetable['legs'], phaseMs: number): Leg {
  let low = 0;
  let high = legs.length - 1;
  while (low < high) {
    const middle = (low + high + 1) >> 1;
    if ((legs[middle]?.fromMs ?? Infinity) <= phaseMs) low = middle;
    else high = middle - 1;
  }
  return legs[low] ?? legs[0];
}

/** Standing at this distance, on the course by which the vehicle came. */
function standingAt(line: Line, alongM: number, cameForward: boolean): MotionState {
  // A hand's breadth back along the way it came: at a bend, the piece behind it and not the one ahead.
  const behindM = cameForward ? Math.max(0, alongM - 0.1) : Math.min(line.lengthM, alongM + 0.1);
  const { courseDeg } = onLine(line, behindM);
  const { lonDeg, latDeg, altM } = onLine(line, alongM);
  const course = cameForward ? courseDeg : opposite(courseDeg);
  return { lonDeg, latDeg, altM, speedMps: 0, courseDeg: course, moving: false };
}

function opposite(courseDeg: number): number {
  return courseDeg < 180 ? courseDeg + 180 : courseDeg - 180;
}
