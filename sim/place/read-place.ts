// A place from a GeoJSON file (RFC 7946). Each feature says with `what` which part of the place it is:
//   point  (Point)                     id
//   line   (LineString)                id, limitMps, stops: ids of points or metres from the start
//   area   (Polygon)                   id, sky, coverage: "none" or decibels added, altM, priority
//   mast   (Point)                     id, powerAt1kmDbm, altM, exponent
// `name` and `note` are free text. Masts can be named as points, too. Ids are unique within points and masts,
// within lines, and within areas. Where areas overlap, the higher `priority` decides, then the smaller area;
// sky and coverage are decided apart, each by the areas that say something of it.
import { basename, join } from 'node:path';
import { BadInput } from '../errors.ts';
import { packageRoot } from '../package-root.ts';
import { medianRsrpFrom, skyFrom } from './coverage.ts';
import type { Mast, Zone } from './coverage.ts';
import { readPath, readPoint, readRing } from './geometry.ts';
import { isRecord, jsonSource, readJson, shown } from './json-source.ts';
import type { JsonSource } from './json-source.ts';
import { makeLine, nearestOnLine } from './line.ts';
import type { Area, Line, PlaceMap, Position, Sky } from './place.ts';
import { properties } from './properties.ts';
import type { Properties } from './properties.ts';
import { readyRing, signedAreaM2 } from './ring.ts';

const WHAT = ['point', 'line', 'area', 'mast'] as const;
const SKY: readonly Sky[] = ['open', 'street', 'window', 'indoor', 'tunnel'];
/** A stop given by a point's id must be this near the line. */
const STOP_WITHIN_M = 500;

/** The places that come with wayproof. */
export const BUILTIN_PLACES = ['tarn-isles', 'halfday-shoal', 'zero-reef'] as const;
export type BuiltinPlace = (typeof BUILTIN_PLACES)[number];

/** Reads a place. Throws BadInput with file, line and JSON pointer, all mistaken features in one. */
export function readPlace(file: string): PlaceMap {
  return placeFrom(readJson(file));
}

/** The same for GeoJSON text; `file` is the name that mistakes are told with. */
export function parsePlace(text: string, file: string): PlaceMap {
  return placeFrom(jsonSource(file, text));
}

/** A place that comes with wayproof, from the checkout or from the installed package. */
export function builtinPlace(name: BuiltinPlace): PlaceMap {
  return readPlace(join(packageRoot(), 'scenarios', 'place', `${name}.geojson`));
}

interface Drawn {
  readonly area: Area;
  readonly sky: Sky | undefined;
  readonly coverage: number | 'none' | undefined;
  readonly priority: number;
}

interface Parts {
  readonly points: Map<string, Position>;
  readonly masts: Mast[];
  readonly areas: Map<string, Drawn>;
  readonly lines: Map<string, Line>;
}

function placeFrom(source: JsonSource): PlaceMap {
  const { root } = source;
  if (!isRecord(root) || root['type'] !== 'FeatureCollection' || !Array.isArray(root['features'])) {
    const found = isRecord(root) ? `type ${shown(root['type'])}` : shown(root);
    const expected = 'a GeoJSON FeatureCollection with `features`';
    throw source.bad('', expected, found, 'wrap the features in a FeatureCollection (RFC 7946 section 3.3)');
  }
  if (root['crs'] !== undefined) {
    const mend = 'convert the coordinates to WGS 84 and remove `crs` (RFC 7946 section 4)';
    throw source.bad('/crs', 'WGS 84 coordinates without `crs`', shown(root['crs']), mend);
  }
  const features = readFeatures(source, root['features']);
  const parts: Parts = { points: new Map(), masts: [], areas: new Map(), lines: new Map() };
  const mistakes: BadInput[] = [];
  // Lines come last, because their stops name points.
  for (const isLine of [false, true]) {
    for (const feature of features) {
      if ((feature.what === 'line') !== isLine) continue;
      try {
        addFeature(source, feature, parts);
      } catch (error) {
        if (!(error instanceof BadInput)) throw error;
        mistakes.push(error);
      }
    }
  }
  const [first, ...rest] = mistakes;
  if (first)
    throw new BadInput(
      first.message,
      rest.map((mistake) => mistake.message),
    );
  if (parts.masts.length === 0) {
    const mend = 'add a Point feature with "what": "mast" and "powerAt1kmDbm", e.g. -75';
    throw source.bad('/features', 'at least one mast', 'none', mend);
  }
  const name = typeof root['name'] === 'string' ? root['name'] : basename(source.file, '.geojson');
  return placeMap(name, parts);
}

interface Feature {
  readonly pointer: string;
  readonly what: (typeof WHAT)[number];
  readonly own: Properties;
  readonly geometry: unknown;
}

function readFeatures(source: JsonSource, features: readonly unknown[]): Feature[] {
  return features.map((feature, i) => {
    const pointer = `/features/${i}`;
    if (!isRecord(feature) || feature['type'] !== 'Feature' || !isRecord(feature['properties'])) {
      throw source.bad(pointer, 'a Feature with properties', shown(feature), 'add "type" and "properties"');
    }
    const own = properties(source, feature['properties'], `${pointer}/properties`);
    return { pointer, what: own.oneOf('what', WHAT), own, geometry: feature['geometry'] };
  });
}

function addFeature(source: JsonSource, { pointer, what, own, geometry }: Feature, to: Parts): void {
  const at = `${pointer}/geometry`;
  const id = own.id();
  switch (what) {
    case 'point':
      own.only([]);
      own.unused(to.points, id);
      to.points.set(id, readPoint(source, geometry, at));
      return;
    case 'mast': {
      own.only(['powerAt1kmDbm', 'altM', 'exponent']);
      own.unused(to.points, id);
      const { lonDeg, latDeg, altM } = readPoint(source, geometry, at);
      const mast: Mast = {
        lonDeg,
        latDeg,
        altM: own.number('altM', altM, [0, 5000]),
        powerAt1kmDbm: own.number('powerAt1kmDbm', undefined, [-140, -44]),
        exponent: own.number('exponent', 3.5, [1, 8]),
      };
      to.masts.push(mast);
      to.points.set(id, { lonDeg, latDeg, altM: mast.altM });
      return;
    }
    case 'area':
      own.only(['sky', 'coverage', 'altM', 'priority']);
      own.unused(to.areas, id);
      to.areas.set(id, {
        area: { id, ring: readRing(source, geometry, at), altM: own.number('altM', 0, [-500, 9000]) },
        sky: own.has('sky') ? own.oneOf('sky', SKY) : undefined,
        coverage: own.coverage(),
        priority: own.number('priority', 0, [-1000, 1000]),
      });
      return;
    case 'line': {
      own.only(['limitMps', 'stops']);
      own.unused(to.lines, id);
      const limitMps = own.has('limitMps') ? own.number('limitMps', undefined, [0.01, 400]) : Infinity;
      const bare = makeLine(id, readPath(source, geometry, at), limitMps, []);
      to.lines.set(id, { ...bare, stopsM: stopsOn(bare, own, to.points) });
    }
  }
}

function stopsOn(line: Line, own: Properties, points: ReadonlyMap<string, Position>): number[] {
  const stops = own.list('stops').map((stop, i) => {
    if (typeof stop === 'number' && stop >= 0 && stop <= line.lengthM) return stop;
    const point = typeof stop === 'string' ? points.get(stop) : undefined;
    const nearest = point && nearestOnLine(line, point);
    if (nearest && nearest.offM <= STOP_WITHIN_M) return nearest.alongM;
    const found = nearest ? `${shown(stop)}, ${Math.round(nearest.offM)} m off the line` : shown(stop);
    const expected = `the id of a point within ${STOP_WITHIN_M} m of the line, or metres from 0 to ${Math.floor(line.lengthM)}`;
    throw own.bad(`stops/${i}`, expected, found, 'name a point of this file, or move it');
  });
  // Vehicles wait at the ends anyway; a stop within a metre of one, or of another stop, is the same stop.
  return stops
    .sort((a, b) => a - b)
    .filter((m, i, all) => m > 1 && m < line.lengthM - 1 && m - (all[i - 1] ?? -Infinity) > 1);
}

function placeMap(name: string, { points, masts, areas, lines }: Parts): PlaceMap {
  const ranked = [...areas.values()]
    .map((drawn) => ({
      ...drawn,
      sizeM2: Math.abs(signedAreaM2(drawn.area.ring)),
      ring: readyRing(drawn.area.ring),
    }))
    .sort((a, b) => b.priority - a.priority || a.sizeM2 - b.sizeM2);
  const zones = <T>(valueOf: (drawn: Drawn) => T | undefined): Zone<T>[] =>
    ranked.flatMap((drawn) => {
      const value = valueOf(drawn);
      return value === undefined ? [] : [{ ring: drawn.ring, value }];
    });
  return {
    name,
    lines,
    points,
    areas: new Map([...areas].map(([id, { area }]) => [id, area])),
    skyAt: skyFrom(zones(({ sky }) => sky)),
    medianRsrpDbm: medianRsrpFrom(
      masts,
      zones(({ coverage }) => coverage),
    ),
  };
}
