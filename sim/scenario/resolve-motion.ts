// How a group moves, with the ids of its place looked up.
import type { Mistakes } from '../document/mistakes.ts';
import { below } from '../document/pointer.ts';
import { noteWord } from '../document/schema.ts';
import { describe } from '../document/words.ts';
import type { PlaceMap } from '../place/place.ts';
import { DEFAULT_ROAM, DEFAULT_ROUTE } from './defaults.ts';
import type * as raw from './raw.ts';
import type { MotionPlan } from './scenario.ts';
import { Texts } from './texts.ts';

export function resolveMotion(
  motion: raw.Motion,
  pointer: string,
  place: PlaceMap | undefined,
  mistakes: Mistakes,
): MotionPlan {
  const texts = new Texts(mistakes);
  const known = (key: string, id: string, ids: ReadonlyMap<string, unknown> | undefined) => {
    if (ids && !ids.has(id)) noteWord(below(pointer, key), id, [...ids.keys()], mistakes);
  };
  switch (motion.kind) {
    case 'parked':
      if (typeof motion.at !== 'string') {
        return parkedAt(motion.at, below(pointer, 'at'), mistakes);
      }
      known('at', motion.at, place?.points);
      return { kind: 'parked', ...(place?.points.get(motion.at) ?? { lonDeg: 0, latDeg: 0, altM: 0 }) };
    case 'route':
      known('along', motion.along, place?.lines);
      return {
        kind: 'route',
        along: motion.along,
        speedMps: motion.speedMps ?? DEFAULT_ROUTE.speedMps,
        dwellMs: texts.duration(below(pointer, 'dwell'), motion.dwell, DEFAULT_ROUTE.dwellMs),
        then: motion.then ?? DEFAULT_ROUTE.then,
        headwayMs: texts.duration(below(pointer, 'headway'), motion.headway, DEFAULT_ROUTE.headwayMs),
      };
    case 'roam':
      known('within', motion.within, place?.areas);
      return { ...DEFAULT_ROAM, ...motion };
  }
}

function parkedAt(at: readonly number[], pointer: string, mistakes: Mistakes): MotionPlan {
  const [lonDeg = 0, latDeg = 0, altM = 0] = at;
  const bounds = [
    { name: 'a longitude', value: lonDeg, most: 180 },
    { name: 'a latitude', value: latDeg, most: 90 },
  ];
  for (const [i, { name, value, most }] of bounds.entries()) {
    if (Math.abs(value) <= most) continue;
    const expected = `${name} from -${most} to ${most}`;
    mistakes.add(below(pointer, i), expected, describe(value), 'write [longitude, latitude, height]');
  }
  // Positions have longitudes in [-180, 180).
  return { kind: 'parked', lonDeg: lonDeg === 180 ? -180 : lonDeg, latDeg, altM };
}
