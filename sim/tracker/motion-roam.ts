// Movement in an area: a correlated random walk in short straight steps of equal length, each wholly inside.
// The course turns a little at each step; where a step would cross the border it is reflected there.
import type { Area } from '../place/place.ts';
import { insideRing, readyRing } from '../place/ring.ts';
import type { ReadyRing } from '../place/ring.ts';
import { EARTH_RADIUS_M, wrapCourseDeg, wrapLonDeg } from '../place/sphere.ts';
import type { RandomStream } from '../random.ts';
import type { MotionPlan } from '../scenario/scenario.ts';
import { clearanceM, sideCrossed, sideCourseRad } from './motion-border.ts';
import type { Motion } from './motion-state.ts';

type RoamPlan = MotionPlan & { kind: 'roam' };

const RAD = Math.PI / 180;
const METRES_PER_DEG = EARTH_RADIUS_M * RAD;
/** Length of a step in time; shorter where a step would be more than a sixteenth of the area's width. */
const STEP_S = 5;
const STEPS_ACROSS = 16;
/** Other courses tried at the border, after the reflected one: radians added to the one that would cross it. */
const WAYS_OUT = [180, 135, -135, 90, -90, 45, -45].map((deg) => deg * RAD);

export function roamMotion(plan: RoamPlan, area: Area, startMs: number, random: RandomStream): Motion {
  if (!(plan.speedMps > 0 && plan.speedMps < Infinity)) {
    throw new Error(`roaming within ${area.id}: speed must be above 0`);
  }
  const ring = readyOf(area);
  const stepS = Math.min(STEP_S, widthM(ring) / STEPS_ACROSS / plan.speedMps);
  const stepMs = stepS * 1000;
  const stepM = plan.speedMps * stepS;
  const turnRad = plan.turnDegPerMin * Math.sqrt(stepS / 60) * RAD;

  let { lonDeg: toLon, latDeg: toLat } = somewhereInside(ring, area.id, random);
  let [fromLon, fromLat] = [toLon, toLat];
  let courseRad = random.next() * 2 * Math.PI;
  let moving = false;
  let step = -1;
  let clearM = 0;

  /** Tries this course. Returns -1 where the step was taken, else the side of the ring in the way. */
  function go(course: number): number {
    const lon = fromLon + (stepM * Math.sin(course)) / (METRES_PER_DEG * Math.cos(fromLat * RAD));
    const lat = fromLat + (stepM * Math.cos(course)) / METRES_PER_DEG;
    if (clearM < stepM) clearM = clearanceM(ring, fromLon, fromLat);
    const side = clearM < stepM ? sideCrossed(ring, fromLon, fromLat, lon, lat) : -1;
    if (side >= 0) return side;
    toLon = lon;
    toLat = lat;
    courseRad = course;
    moving = true;
    clearM -= stepM;
    return -1;
  }

  function advance(): void {
    step += 1;
    fromLon = toLon;
    fromLat = toLat;
    const course = courseRad + turnRad * random.gauss();
    const side = go(course);
    if (side < 0 || go(2 * sideCourseRad(ring, side) - course) < 0) return;
    for (const way of WAYS_OUT) if (go(course + way) < 0) return;
    // In a corner too narrow for any of them: stand for one step, facing back.
    courseRad = course + Math.PI;
    moving = false;
  }

  advance();
  return {
    at(tMs) {
      const since = Math.max(0, tMs - startMs) / stepMs;
      const wanted = Math.floor(since);
      if (wanted < step) throw new Error('motion was asked for a time before the one before');
      while (step < wanted) advance();
      const share = since - wanted;
      return {
        lonDeg: wrapLonDeg(fromLon + (toLon - fromLon) * share),
        latDeg: fromLat + (toLat - fromLat) * share,
        altM: area.altM,
        speedMps: moving ? plan.speedMps : 0,
        courseDeg: wrapCourseDeg(courseRad / RAD),
        moving,
      };
    },
  };
}

const readyRings = new WeakMap<Area, ReadyRing>();

function readyOf(area: Area): ReadyRing {
  let ring = readyRings.get(area);
  if (!ring) readyRings.set(area, (ring = readyRing(area.ring)));
  return ring;
}

/** Shorter side of the box round the ring. */
function widthM({ westDeg, eastDeg, southDeg, northDeg }: ReadyRing): number {
  const shrink = Math.cos(((southDeg + northDeg) / 2) * RAD);
  return METRES_PER_DEG * Math.min((eastDeg - westDeg) * shrink, northDeg - southDeg);
}

function somewhereInside(
  ring: ReadyRing,
  id: string,
  random: RandomStream,
): { lonDeg: number; latDeg: number } {
  for (let tries = 0; tries < 10_000; tries += 1) {
    const lonDeg = ring.westDeg + random.next() * (ring.eastDeg - ring.westDeg);
    const latDeg = ring.southDeg + random.next() * (ring.northDeg - ring.southDeg);
    if (insideRing(ring, lonDeg, latDeg)) return { lonDeg, latDeg };
  }
  throw new Error(`area ${id} is too thin to start inside`);
}
