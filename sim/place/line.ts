// Lines measured along their length. Between two points a line follows the great circle.
import type { Line, Position } from './place.ts';
import { arcBetween, distanceM, EARTH_RADIUS_M, onArc, wrapLonDeg } from './sphere.ts';
import type { Arc, LonLat } from './sphere.ts';

/** A line with its cumulative distances. Needs two points or more, neighbours apart. */
export function makeLine(
  id: string,
  points: readonly Position[],
  limitMps: number,
  stopsM: readonly number[],
): Line {
  const distancesM = [0];
  let lengthM = 0;
  for (let i = 1; i < points.length; i += 1) {
    const [from, to] = [points[i - 1], points[i]];
    if (from && to) lengthM += distanceM(from, to);
    distancesM.push(lengthM);
  }
  return { id, points, distancesM, lengthM, limitMps, stopsM };
}

const arcsOfLine = new WeakMap<Line, readonly Arc[]>();

/** The great-circle pieces of a line, one between each two points; worked out once for each line. */
export function arcsOf(line: Line): readonly Arc[] {
  let arcs = arcsOfLine.get(line);
  if (!arcs) {
    arcs = line.points.slice(1).map((to, i) => arcBetween(line.points[i] ?? to, to));
    arcsOfLine.set(line, arcs);
  }
  return arcs;
}

/** Index of the piece that holds this distance: from its start included to its end excluded (the last one: included). */
export function pieceAt(line: Line, alongM: number): number {
  const d = line.distancesM;
  let low = 0;
  let high = d.length - 2;
  while (low < high) {
    const middle = (low + high + 1) >> 1;
    if ((d[middle] ?? Infinity) <= alongM) low = middle;
    else high = middle - 1;
  }
  return low;
}

/** Position and course at a distance from the start that lies on this piece (see arcsOf, pieceAt). */
export function onPiece(
  line: Line,
  arcs: readonly Arc[],
  piece: number,
  alongM: number,
): Position & { readonly courseDeg: number } {
  const arc = arcs[piece];
  const from = line.points[piece];
  const to = line.points[piece + 1];
  if (!arc || !from || !to) throw new Error(`line ${line.id} has no piece ${piece}`);
  const angleRad = (alongM - (line.distancesM[piece] ?? 0)) / EARTH_RADIUS_M;
  const { lonDeg, latDeg, courseDeg } = onArc(arc, angleRad);
  return { lonDeg, latDeg, altM: from.altM + ((to.altM - from.altM) * angleRad) / arc.angleRad, courseDeg };
}

/** Position and course at a distance from the start; distances past an end give the end. */
export function onLine(line: Line, alongM: number): Position & { readonly courseDeg: number } {
  const d = Math.min(Math.max(alongM, 0), line.lengthM);
  return onPiece(line, arcsOf(line), pieceAt(line, d), d);
}

/**
 * The place on the line nearest to a position: its distance from the start, and how far off the line the
 * position is, metres. Each piece is taken as straight on a local plane: good for pieces up to some 100 km.
 */
export function nearestOnLine(line: Line, to: LonLat): { readonly alongM: number; readonly offM: number } {
  let best = { alongM: 0, offM: Infinity };
  for (let i = 0; i + 1 < line.points.length; i += 1) {
    const [a, b] = [line.points[i], line.points[i + 1]];
    if (!a || !b) continue;
    const shrink = Math.cos((a.latDeg * Math.PI) / 180);
    const [bx, by] = [wrapLonDeg(b.lonDeg - a.lonDeg) * shrink, b.latDeg - a.latDeg];
    const [px, py] = [wrapLonDeg(to.lonDeg - a.lonDeg) * shrink, to.latDeg - a.latDeg];
    const share = Math.min(1, Math.max(0, (px * bx + py * by) / (bx * bx + by * by)));
    const start = line.distancesM[i] ?? 0;
    const alongM = start + share * ((line.distancesM[i + 1] ?? start) - start);
    const offM = distanceM(onLine(line, alongM), to);
    if (offM < best.offM) best = { alongM, offM };
  }
  return best;
}
