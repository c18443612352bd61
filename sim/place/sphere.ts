// Distances and courses on a sphere. WGS 84 differs from it by up to 0.6 % in distance, which is far
// less than a tracker's models can tell; what matters here is that all of them use the same figure.

/** Mean radius of the earth (2a + b) / 3 of WGS 84, metres. */
export const EARTH_RADIUS_M = 6_371_008.8;

const RAD = Math.PI / 180;
const DEG = 180 / Math.PI;

export interface LonLat {
  readonly lonDeg: number;
  readonly latDeg: number;
}

/** The same meridian in [-180, 180), never -0. */
export function wrapLonDeg(lonDeg: number): number {
  if (lonDeg >= -180 && lonDeg < 180) return lonDeg + 0;
  const turned = (lonDeg + 180) % 360;
  const positive = turned < 0 ? turned + 360 : turned;
  // A negative rest too small to count would round up to a full turn.
  return positive >= 360 ? -180 : positive - 180;
}

/** The same direction in [0, 360), never -0. */
export function wrapCourseDeg(courseDeg: number): number {
  if (courseDeg >= 0 && courseDeg < 360) return courseDeg + 0;
  const turned = courseDeg >= -360 && courseDeg < 0 ? courseDeg : courseDeg % 360;
  const positive = turned < 0 ? turned + 360 : turned;
  // A negative angle too small to count would round up to a full turn.
  return positive >= 360 ? 0 : positive + 0;
}

/** Angle between two positions seen from the earth's centre, radians (haversine). Allocates nothing. */
export function centralAngleRad(lonA: number, latA: number, lonB: number, latB: number): number {
  const sinLat = Math.sin(((latB - latA) * RAD) / 2);
  const sinLon = Math.sin(((lonB - lonA) * RAD) / 2);
  const h = sinLat * sinLat + Math.cos(latA * RAD) * Math.cos(latB * RAD) * sinLon * sinLon;
  return 2 * Math.atan2(Math.sqrt(h), Math.sqrt(Math.max(0, 1 - h)));
}

/** Great-circle distance, metres. */
export function distanceM(from: LonLat, to: LonLat): number {
  return EARTH_RADIUS_M * centralAngleRad(from.lonDeg, from.latDeg, to.lonDeg, to.latDeg);
}

/** Course at `from` of the great circle to `to`, degrees clockwise from north, [0, 360). */
export function initialBearingDeg(from: LonLat, to: LonLat): number {
  const latA = from.latDeg * RAD;
  const latB = to.latDeg * RAD;
  const turn = (to.lonDeg - from.lonDeg) * RAD;
  const east = Math.sin(turn) * Math.cos(latB);
  const north = Math.cos(latA) * Math.sin(latB) - Math.sin(latA) * Math.cos(latB) * Math.cos(turn);
  return wrapCourseDeg(Math.atan2(east, north) * DEG);
}

/** Where one arrives from `from` on this initial course after this distance along the great circle. */
export function destination(from: LonLat, courseDeg: number, metres: number): LonLat {
  const lat = from.latDeg * RAD;
  const lon = from.lonDeg * RAD;
  const course = courseDeg * RAD;
  const north = Math.cos(course);
  const east = Math.sin(course);
  return arcPoint(
    {
      ax: Math.cos(lat) * Math.cos(lon),
      ay: Math.cos(lat) * Math.sin(lon),
      az: Math.sin(lat),
      tx: -Math.sin(lat) * Math.cos(lon) * north - Math.sin(lon) * east,
      ty: -Math.sin(lat) * Math.sin(lon) * north + Math.cos(lon) * east,
      tz: Math.cos(lat) * north,
      angleRad: metres / EARTH_RADIUS_M,
    },
    metres / EARTH_RADIUS_M,
  );
}

/** The position `fraction` of the way along the great circle (0 = `from`, 1 = `to`). */
export function interpolate(from: LonLat, to: LonLat, fraction: number): LonLat {
  const arc = arcBetween(from, to);
  return arcPoint(arc, arc.angleRad * fraction);
}

/** A piece of a great circle: unit vector of its start, unit vector along it there, and its angle. */
export interface Arc {
  readonly ax: number;
  readonly ay: number;
  readonly az: number;
  readonly tx: number;
  readonly ty: number;
  readonly tz: number;
  readonly angleRad: number;
}

/** The shorter great circle between two positions. Between antipodes it is one of the many. */
export function arcBetween(from: LonLat, to: LonLat): Arc {
  const ax = Math.cos(from.latDeg * RAD) * Math.cos(from.lonDeg * RAD);
  const ay = Math.cos(from.latDeg * RAD) * Math.sin(from.lonDeg * RAD);
  const az = Math.sin(from.latDeg * RAD);
  const bx = Math.cos(to.latDeg * RAD) * Math.cos(to.lonDeg * RAD);
  const by = Math.cos(to.latDeg * RAD) * Math.sin(to.lonDeg * RAD);
  const bz = Math.sin(to.latDeg * RAD);
  const along = ax * bx + ay * by + az * bz;
  let tx = bx - along * ax;
  let ty = by - along * ay;
  let tz = bz - along * az;
  const size = Math.sqrt(tx * tx + ty * ty + tz * tz);
  if (size > 0) {
    tx /= size;
    ty /= size;
    tz /= size;
  } else {
    // No direction is given: take north.
    tx = -Math.sin(from.latDeg * RAD) * Math.cos(from.lonDeg * RAD);
    ty = -Math.sin(from.latDeg * RAD) * Math.sin(from.lonDeg * RAD);
    tz = Math.cos(from.latDeg * RAD);
  }
  const angleRad = centralAngleRad(from.lonDeg, from.latDeg, to.lonDeg, to.latDeg);
  return { ax, ay, az, tx, ty, tz, angleRad };
}

/** The position at this angle from the start of the arc, and the course along the arc there, [0, 360). */
export function onArc(arc: Arc, angleRad: number): LonLat & { readonly courseDeg: number } {
  const c = Math.cos(angleRad);
  const s = Math.sin(angleRad);
  const x = arc.ax * c + arc.tx * s;
  const y = arc.ay * c + arc.ty * s;
  const z = arc.az * c + arc.tz * s;
  // East and north parts of the direction, both times cos(latitude).
  const east = (arc.ty * c - arc.ay * s) * x - (arc.tx * c - arc.ax * s) * y;
  const north = arc.tz * c - arc.az * s;
  return {
    lonDeg: wrapLonDeg(Math.atan2(y, x) * DEG),
    latDeg: Math.atan2(z, Math.sqrt(x * x + y * y)) * DEG + 0,
    courseDeg: wrapCourseDeg(Math.atan2(east, north) * DEG),
  };
}

function arcPoint(arc: Arc, angleRad: number): LonLat {
  const { lonDeg, latDeg } = onArc(arc, angleRad);
  return { lonDeg, latDeg };
}
