// Plane geometry at the border of a roaming area, on the ring's own longitude axis.
import type { ReadyRing } from '../place/ring.ts';
import { EARTH_RADIUS_M } from '../place/sphere.ts';

const RAD = Math.PI / 180;
const METRES_PER_DEG = EARTH_RADIUS_M * RAD;
/** Beyond this the shrinking of degrees of longitude with latitude would count. */
const FARTHEST_M = 20_000;

/** A distance within which there is certainly no border, metres: a little less than that to the nearest side. */
export function clearanceM(ring: ReadyRing, lonDeg: number, latDeg: number): number {
  const { lonDeg: lons, latDeg: lats } = ring;
  const n = lons.length;
  const shrink = Math.cos(latDeg * RAD);
  let best = Infinity;
  let ax = ((lons[n - 1] ?? 0) - lonDeg) * shrink;
  let ay = (lats[n - 1] ?? 0) - latDeg;
  for (let i = 0; i < n; i += 1) {
    const bx = ((lons[i] ?? 0) - lonDeg) * shrink;
    const by = (lats[i] ?? 0) - latDeg;
    const dx = bx - ax;
    const dy = by - ay;
    const share = Math.min(1, Math.max(0, -(ax * dx + ay * dy) / (dx * dx + dy * dy)));
    const x = ax + share * dx;
    const y = ay + share * dy;
    best = Math.min(best, x * x + y * y);
    ax = bx;
    ay = by;
  }
  return 0.95 * Math.min(FARTHEST_M, Math.sqrt(best) * METRES_PER_DEG);
}

/** The side that a straight step meets first, as the index of the side's end; -1 = none. The step counts 5 % longer. */
export function sideCrossed(
  ring: ReadyRing,
  fromLon: number,
  fromLat: number,
  toLon: number,
  toLat: number,
): number {
  const { lonDeg: lons, latDeg: lats } = ring;
  const n = lons.length;
  const dx = (toLon - fromLon) * 1.05;
  const dy = (toLat - fromLat) * 1.05;
  let first = Infinity;
  let side = -1;
  let ax = (lons[n - 1] ?? 0) - fromLon;
  let ay = (lats[n - 1] ?? 0) - fromLat;
  for (let i = 0; i < n; i += 1) {
    const bx = (lons[i] ?? 0) - fromLon;
    const by = (lats[i] ?? 0) - fromLat;
    const ex = bx - ax;
    const ey = by - ay;
    const cross = dx * ey - dy * ex;
    if (cross !== 0) {
      const alongStep = (ax * ey - ay * ex) / cross;
      const alongSide = (ax * dy - ay * dx) / cross;
      if (alongStep >= 0 && alongStep <= 1 && alongSide >= 0 && alongSide <= 1 && alongStep < first) {
        first = alongStep;
        side = i;
      }
    }
    ax = bx;
    ay = by;
  }
  return side;
}

/** Course of a side, clockwise from north, radians. */
export function sideCourseRad(ring: ReadyRing, side: number): number {
  const { lonDeg: lons, latDeg: lats } = ring;
  const before = side === 0 ? lons.length - 1 : side - 1;
  const east = ((lons[side] ?? 0) - (lons[before] ?? 0)) * Math.cos((lats[side] ?? 0) * RAD);
  return Math.atan2(east, (lats[side] ?? 0) - (lats[before] ?? 0));
}
