// Closed rings on an unwrapped longitude axis: a ring over the antimeridian runs from 179.x on to 180.x.
// Sides are straight in longitude and latitude, as RFC 7946 section 3.1.1 has them.
import { EARTH_RADIUS_M, wrapLonDeg } from './sphere.ts';
import type { LonLat } from './sphere.ts';

const RAD = Math.PI / 180;

/** A path on which neighbouring longitudes never differ by more than 180; the first stays as it is. */
export function unwrap<P extends LonLat>(points: readonly P[]): P[] {
  let lonDeg = points[0]?.lonDeg ?? 0;
  return points.map((point) => {
    const step = wrapLonDeg(point.lonDeg - lonDeg);
    // Points that need no shift keep their digits.
    const turns = Math.round((lonDeg + step - point.lonDeg) / 360);
    lonDeg = point.lonDeg + 360 * turns;
    return turns === 0 ? point : { ...point, lonDeg };
  });
}

/** Signed area on a local plane, square metres; positive = counter-clockwise. The ring isn't closed by a repeated point. */
export function signedAreaM2(ring: readonly LonLat[]): number {
  const first = ring[0];
  if (!first) return 0;
  let twice = 0;
  let latSum = 0;
  for (let i = 0, j = ring.length - 1; i < ring.length; j = i, i += 1) {
    const [a, b] = [ring[j], ring[i]];
    if (!a || !b) continue;
    twice +=
      (a.lonDeg - first.lonDeg) * (b.latDeg - first.latDeg) -
      (b.lonDeg - first.lonDeg) * (a.latDeg - first.latDeg);
    latSum += b.latDeg;
  }
  const metresPerDeg = RAD * EARTH_RADIUS_M;
  return (twice / 2) * metresPerDeg * metresPerDeg * Math.cos((latSum / ring.length) * RAD);
}

/** A ring made ready for quick questions. Longitudes in it start from `westDeg` in [-180, 180). */
export interface ReadyRing {
  readonly westDeg: number;
  readonly eastDeg: number;
  readonly southDeg: number;
  readonly northDeg: number;
  readonly lonDeg: Float64Array;
  readonly latDeg: Float64Array;
}

export function readyRing(ring: readonly LonLat[]): ReadyRing {
  const lons = ring.map((p) => p.lonDeg);
  const lats = ring.map((p) => p.latDeg);
  const west = Math.min(...lons);
  const shift = wrapLonDeg(west) - west;
  return {
    westDeg: west + shift,
    eastDeg: Math.max(...lons) + shift,
    southDeg: Math.min(...lats),
    northDeg: Math.max(...lats),
    lonDeg: Float64Array.from(lons, (lon) => lon + shift),
    latDeg: Float64Array.from(lats),
  };
}

/** Whether the position is inside (even–odd rule). `lonDeg` in [-180, 180) or on the ring's own axis. */
export function insideRing(ring: ReadyRing, lonDeg: number, latDeg: number): boolean {
  const lon = lonDeg < ring.westDeg ? lonDeg + 360 : lonDeg;
  if (lon > ring.eastDeg || latDeg < ring.southDeg || latDeg > ring.northDeg || lon < ring.westDeg) {
    return false;
  }
  const { lonDeg: lons, latDeg: lats } = ring;
  const n = lons.length;
  let inside = false;
  let lonA = lons[n - 1] ?? 0;
  let latA = lats[n - 1] ?? 0;
  for (let i = 0; i < n; i += 1) {
    const lonB = lons[i] ?? 0;
    const latB = lats[i] ?? 0;
    if (latA > latDeg !== latB > latDeg && lon < lonA + ((lonB - lonA) * (latDeg - latA)) / (latB - latA)) {
      inside = !inside;
    }
    lonA = lonB;
    latA = latB;
  }
  return inside;
}

/**
 * One ring from the two parts of a polygon that was cut at the antimeridian (RFC 7946 section 3.1.9), both
 * counter-clockwise and not closed by a repeated point. Undefined where the parts don't share exactly one side.
 */
export function joinRings(one: readonly LonLat[], other: readonly LonLat[]): LonLat[] | undefined {
  const seams: (readonly [number, number])[] = [];
  for (let i = 0; i < one.length; i += 1) {
    for (let k = 0; k < other.length; k += 1) {
      // Two counter-clockwise parts run along a shared side in opposite directions.
      if (same(one[i], at(other, k + 1)) && same(at(one, i + 1), other[k])) seams.push([i, k]);
    }
  }
  const [seam] = seams;
  if (!seam || seams.length > 1) return undefined;
  const [i, k] = seam;
  return unwrap([...rotate(one, i + 1), ...rotate(other, k + 1).slice(1, -1)]);
}

function rotate(ring: readonly LonLat[], by: number): LonLat[] {
  const n = by % ring.length;
  return [...ring.slice(n), ...ring.slice(0, n)];
}

function at(ring: readonly LonLat[], i: number): LonLat | undefined {
  return ring[i % ring.length];
}

function same(a: LonLat | undefined, b: LonLat | undefined): boolean {
  return a !== undefined && b !== undefined && a.latDeg === b.latDeg && wrapLonDeg(a.lonDeg - b.lonDeg) === 0;
}
