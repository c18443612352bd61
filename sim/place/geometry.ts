// Geometries of RFC 7946, checked and turned into our own: positions, unwrapped paths and rings.
import { isRecord, shown } from './json-source.ts';
import type { JsonSource } from './json-source.ts';
import type { Position } from './place.ts';
import { joinRings, signedAreaM2, unwrap } from './ring.ts';
import { distanceM, wrapLonDeg } from './sphere.ts';
import type { LonLat } from './sphere.ts';

/** Reads the geometry at `pointer`, which must be of one of these types. Throws BadInput. */
function typed(source: JsonSource, geometry: unknown, pointer: string, types: readonly string[]) {
  const type = isRecord(geometry) ? geometry['type'] : undefined;
  if (!isRecord(geometry) || typeof type !== 'string' || !types.includes(type)) {
    const found = isRecord(geometry) ? `type ${shown(type)}` : shown(geometry);
    throw source.bad(pointer, `a ${types.join(' or ')} geometry`, found, 'change the geometry or `what`');
  }
  return { type, coordinates: geometry['coordinates'], at: `${pointer}/coordinates` };
}

function list(
  source: JsonSource,
  value: unknown,
  pointer: string,
  least: number,
  of: string,
): readonly unknown[] {
  if (Array.isArray(value) && value.length >= least) return value;
  const found = Array.isArray(value) ? `${value.length}` : shown(value);
  throw source.bad(pointer, `an array of ${least} or more ${of}`, found, 'add what is missing');
}

function position(source: JsonSource, value: unknown, pointer: string): Position {
  const [lonDeg, latDeg, altM = 0] = Array.isArray(value) ? (value as readonly unknown[]) : [];
  if (typeof lonDeg !== 'number' || typeof latDeg !== 'number' || typeof altM !== 'number') {
    const expected = 'a position [longitude, latitude] or [longitude, latitude, height in metres]';
    throw source.bad(
      pointer,
      expected,
      shown(value),
      'write numbers, longitude first (RFC 7946 section 3.1.1)',
    );
  }
  if (Math.abs(latDeg) > 90 || Math.abs(lonDeg) > 180) {
    const mend = 'write longitude first; cut a line over the antimeridian in two (RFC 7946 section 3.1.9)';
    throw source.bad(pointer, 'longitude within ±180 and latitude within ±90', shown(value), mend);
  }
  return { lonDeg, latDeg, altM };
}

function path(source: JsonSource, value: unknown, pointer: string, least: number): Position[] {
  return list(source, value, pointer, least, 'positions').map((p, i) =>
    position(source, p, `${pointer}/${i}`),
  );
}

/** A Point; longitude in [-180, 180). */
export function readPoint(source: JsonSource, geometry: unknown, pointer: string): Position {
  const { coordinates, at } = typed(source, geometry, pointer, ['Point']);
  const p = position(source, coordinates, at);
  return { ...p, lonDeg: wrapLonDeg(p.lonDeg) };
}

/**
 * A LineString, or a MultiLineString whose parts go on from one another, as cutting at the antimeridian
 * makes them. A jump from 179.x to -179.x is taken as the short way. Longitudes in [-180, 180).
 */
export function readPath(source: JsonSource, geometry: unknown, pointer: string): readonly Position[] {
  const { type, coordinates, at } = typed(source, geometry, pointer, ['LineString', 'MultiLineString']);
  const parts =
    type === 'LineString'
      ? [path(source, coordinates, at, 2)]
      : list(source, coordinates, at, 1, 'lines').map((part, i) => path(source, part, `${at}/${i}`, 2));
  const points: Position[] = [];
  for (const [k, part] of parts.entries()) {
    const last = points.at(-1);
    const [first] = part;
    if (last && first && !samePlace(last, first)) {
      const expected = 'a part that goes on where the one before ended';
      throw source.bad(
        `${at}/${k}/0`,
        expected,
        shown(first),
        'join the parts, or make two features of them',
      );
    }
    points.push(...(last ? part.slice(1) : part));
  }
  for (const [i, to] of points.entries()) {
    const from = points[i - 1];
    if (from && distanceM(from, to) === 0) {
      const found = `${shown([to.lonDeg, to.latDeg])} twice running`;
      throw source.bad(at, 'neighbouring positions that differ', found, 'remove one of the two');
    }
  }
  return points.map((p) => ({ ...p, lonDeg: wrapLonDeg(p.lonDeg) }));
}

/**
 * A Polygon without holes, or a MultiPolygon of two parts that share one side on the antimeridian.
 * The ring is counter-clockwise, unwrapped, and not closed by a repeated point.
 */
export function readRing(source: JsonSource, geometry: unknown, pointer: string): readonly LonLat[] {
  const { type, coordinates, at } = typed(source, geometry, pointer, ['Polygon', 'MultiPolygon']);
  if (type === 'Polygon') return polygon(source, coordinates, at);
  const parts = list(source, coordinates, at, 1, 'polygons').map((p, i) => polygon(source, p, `${at}/${i}`));
  const [one, other] = parts;
  if (one && !other) return one;
  const joined = one && other && parts.length === 2 ? joinRings(one, other) : undefined;
  if (joined) return joined;
  const expected = 'two parts that share exactly one side, on the antimeridian';
  throw source.bad(at, expected, `${parts.length} parts that do not`, 'make one feature of each part');
}

function polygon(source: JsonSource, value: unknown, pointer: string): readonly LonLat[] {
  const rings = list(source, value, pointer, 1, 'rings');
  if (rings.length > 1) {
    const mend = 'draw the hole as an area of its own with a higher priority';
    throw source.bad(`${pointer}/1`, 'one ring', `${rings.length}`, mend);
  }
  const closed = path(source, rings[0], `${pointer}/0`, 4);
  const [first, last] = [closed[0], closed.at(-1)];
  if (!first || !last || !samePlace(first, last)) {
    const mend = 'repeat the first position at the end (RFC 7946 section 3.1.6)';
    throw source.bad(`${pointer}/0`, 'a closed ring', `an end at ${shown(last)}`, mend);
  }
  const unwrapped = unwrap(closed.map(({ lonDeg, latDeg }) => ({ lonDeg, latDeg })));
  const end = unwrapped.pop();
  if (unwrapped[0]?.lonDeg !== end?.lonDeg) {
    throw source.bad(`${pointer}/0`, 'a ring beside the poles', 'a ring round a pole', 'leave the pole out');
  }
  const area = signedAreaM2(unwrapped);
  if (area === 0) throw source.bad(`${pointer}/0`, 'a ring with an area', 'area 0', 'draw it as a line');
  // RFC 7946 section 3.1.6: readers shouldn't refuse rings of the wrong direction.
  return area > 0 ? unwrapped : unwrapped.reverse();
}

function samePlace(a: LonLat, b: LonLat): boolean {
  return a.latDeg === b.latDeg && wrapLonDeg(a.lonDeg - b.lonDeg) === 0;
}
