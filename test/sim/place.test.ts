import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import { BadInput } from '../../sim/errors.ts';
import { onLine } from '../../sim/place/line.ts';
import type { PlaceMap } from '../../sim/place/place.ts';
import { builtinPlace, BUILTIN_PLACES, parsePlace, readPlace } from '../../sim/place/read-place.ts';
import { insideRing, readyRing } from '../../sim/place/ring.ts';
import { destination, distanceM } from '../../sim/place/sphere.ts';

const MAST = { id: 'mast', what: 'mast', powerAt1kmDbm: -80 };
const point = (...coordinates: number[]) => ({ type: 'Point', coordinates });
const square = (half: number) => ({
  type: 'Polygon',
  coordinates: [
    [
      [-half, -half],
      [half, -half],
      [half, half],
      [-half, half],
      [-half, -half],
    ],
  ],
});
const feature = (properties: object, geometry: object) => ({ type: 'Feature', properties, geometry });

function place(...features: object[]): PlaceMap {
  return parsePlace(JSON.stringify({ type: 'FeatureCollection', features }, null, 1), 'inline.geojson');
}

function mistake(run: () => unknown): BadInput {
  try {
    run();
  } catch (error) {
    if (error instanceof BadInput) return error;
    throw error;
  }
  throw new Error('no mistake was found');
}

describe('received power', () => {
  const lone = place(feature(MAST, point(0, 0)));
  const away = (metres: number) => {
    const { lonDeg, latDeg } = destination({ lonDeg: 0, latDeg: 0 }, 70, metres);
    return lone.medianRsrpDbm(lonDeg, latDeg);
  };

  it('follows the log-distance law: 10 n dB for each tenfold distance', () => {
    // Textbook log-distance path loss, n = 3.5: 35 dB a decade, 10.536 dB for twice the distance.
    expect(away(1000)).toBeCloseTo(-80, 3);
    expect(away(10_000)).toBeCloseTo(-115, 3);
    expect(away(2000)).toBeCloseTo(-90.536, 3);
  });

  it('is null below -130 dBm and never above -44 dBm', () => {
    // 50 dB below the power at 1 km: 10^(50/35) km = 26.827 km.
    expect(away(26_800)).toBeCloseTo(-130, 1);
    expect(away(26_850)).toBeNull();
    expect(away(0)).toBe(-44);
  });

  it('is that of the strongest mast, with free-space fall by exponent 2', () => {
    const two = place(
      feature(MAST, point(0, 0)),
      feature({ id: 'far', what: 'mast', powerAt1kmDbm: -70, exponent: 2 }, point(0.5, 0)),
    );
    const { lonDeg, latDeg } = destination({ lonDeg: 0.5, latDeg: 0 }, 0, 10_000);
    expect(two.medianRsrpDbm(lonDeg, latDeg)).toBeCloseTo(-90, 3);
    expect(two.medianRsrpDbm(0, 0)).toBe(-44);
  });

  it('counts the height of the antenna', () => {
    const high = place(feature({ ...MAST, altM: 1000 }, point(0, 0)));
    expect(high.medianRsrpDbm(0, 0)).toBeCloseTo(-80, 3);
  });
});

describe('areas that overlap', () => {
  const zones = (outer: object) =>
    place(
      feature(MAST, point(0.01, 0)),
      feature({ id: 'outer', what: 'area', sky: 'street', coverage: 'none', ...outer }, square(0.004)),
      feature({ id: 'inner', what: 'area', sky: 'indoor' }, square(0.001)),
    );

  it('the smaller one decides, each of sky and coverage by the areas that speak of it', () => {
    const map = zones({});
    expect(map.skyAt(0, 0)).toBe('indoor');
    expect(map.skyAt(0.003, 0)).toBe('street');
    expect(map.skyAt(0.005, 0)).toBeUndefined();
    expect(map.medianRsrpDbm(0, 0)).toBeNull();
    expect(map.medianRsrpDbm(0.005, 0)).not.toBeNull();
  });

  it('a higher priority decides before size', () => {
    expect(zones({ priority: 1 }).skyAt(0, 0)).toBe('street');
  });

  it('adds the decibels of the area', () => {
    const [plain, less] = [zones({ coverage: 0 }), zones({ coverage: -7 })];
    expect((plain.medianRsrpDbm(0.003, 0) ?? NaN) - (less.medianRsrpDbm(0.003, 0) ?? NaN)).toBeCloseTo(7, 9);
  });
});

describe('mistakes in a place', () => {
  const line = {
    type: 'LineString',
    coordinates: [
      [0, 0],
      [0.01, 0],
    ],
  };
  it.each<[string, object[], RegExp]>([
    [
      'misspelt property',
      [feature({ ...MAST, powr: 1 }, point(0, 0))],
      /\/features\/0\/properties\/powr: expected one of/,
    ],
    ['missing power', [feature({ id: 'm', what: 'mast' }, point(0, 0))], /powerAt1kmDbm.*found none/],
    ['no mast', [feature({ id: 'p', what: 'point' }, point(0, 0))], /at least one mast/],
    [
      'unknown what',
      [feature({ id: 'p', what: 'dot' }, point(0, 0))],
      /\/properties\/what: expected one of point, line/,
    ],
    ['latitude first', [feature(MAST, point(-14, 138))], /geometry\/coordinates: .*longitude first/],
    ['same id twice', [feature(MAST, point(0, 0)), feature(MAST, point(0, 0))], /\/features\/1\/.*used once/],
    ['wrong geometry', [feature(MAST, line)], /expected a Point geometry, found type "LineString"/],
    [
      'stop far off',
      [feature(MAST, point(1, 1)), feature({ id: 'l', what: 'line', stops: ['mast'] }, line)],
      /stops\/0.*m off the line/,
    ],
    ['stop unknown', [feature({ id: 'l', what: 'line', stops: ['none'] }, line)], /stops\/0.*found "none"/],
    [
      'still line',
      [
        feature(
          { id: 'l', what: 'line' },
          {
            type: 'LineString',
            coordinates: [
              [0, 0],
              [0, 0],
            ],
          },
        ),
      ],
      /twice running/,
    ],
  ])('%s', (_, features, message) => {
    const { message: text } = mistake(() => place(...features));
    expect(text).toMatch(/^inline\.geojson:\d+:\d+: \/features/);
    expect(text).toMatch(message);
    expect(text).toMatch(/ Mend: .+\.$/);
    expect(text).not.toContain('\n');
  });

  it('tells all mistaken features at once', () => {
    const bad = feature({ id: 'Not Good', what: 'point' }, point(0, 0));
    expect(mistake(() => place(bad, bad, bad)).also).toHaveLength(2);
  });

  it('tells the line of a value and of broken JSON', () => {
    const text = '{"type": "FeatureCollection",\n"features": [\n {"type": "Feature"}]}';
    expect(mistake(() => parsePlace(text, 'x.geojson')).message).toMatch(/^x\.geojson:3:2: \/features\/0: /);
    expect(mistake(() => parsePlace('{"a": }', 'x.geojson')).message).toMatch(/^x\.geojson.*expected JSON/);
    expect(mistake(() => readPlace('no-such.geojson')).message).toMatch(/^no-such\.geojson: .*ENOENT/);
  });

  it('refuses coordinates of another system', () => {
    const crs = { type: 'name', properties: { name: 'EPSG:3857' } };
    const text = JSON.stringify({ type: 'FeatureCollection', crs, features: [] });
    expect(mistake(() => parsePlace(text, 'x.geojson')).message).toMatch(/WGS 84/);
  });
});

describe('the places that come with wayproof', () => {
  it.each(BUILTIN_PLACES)('%s reads the same by name and by file', (name) => {
    const file = fileURLToPath(new URL(`../../scenarios/place/${name}.geojson`, import.meta.url));
    expect([...readPlace(file).points]).toEqual([...builtinPlace(name).points]);
  });

  const map = builtinPlace('tarn-isles');
  const islands = ['great-tarn', 'quill-island', 'gull-skerry'].map((id) =>
    readyRing(map.areas.get(id)?.ring ?? []),
  );
  const onLand = (p: { lonDeg: number; latDeg: number }) =>
    islands.some((ring) => insideRing(ring, p.lonDeg, p.latDeg));
  const along = (id: string) => {
    const line = map.lines.get(id);
    if (!line) throw new Error(`no line ${id}`);
    return Array.from({ length: 401 }, (_, i) => onLine(line, (line.lengthM * i) / 400));
  };

  it('the ferry stays on the sea, the roads on land', () => {
    expect(along('ferry').filter(onLand)).toEqual([]);
    for (const road of ['coast-road', 'upland-road']) expect(along(road).every(onLand)).toBe(true);
  });

  it('the coast road goes through its tunnel, the upland road through the hole in coverage, both covered at the ends', () => {
    for (const [road, inTheMiddle] of [
      ['coast-road', (p: { lonDeg: number; latDeg: number }) => map.skyAt(p.lonDeg, p.latDeg) === 'tunnel'],
      [
        'upland-road',
        (p: { lonDeg: number; latDeg: number }) => map.medianRsrpDbm(p.lonDeg, p.latDeg) === null,
      ],
    ] as const) {
      const hits = along(road).map(inTheMiddle);
      expect(hits.indexOf(true)).toBeGreaterThan(40);
      expect(hits.lastIndexOf(true)).toBeLessThan(360);
      const covered = along(road).filter((p) => map.medianRsrpDbm(p.lonDeg, p.latDeg) !== null).length;
      expect(covered).toBeGreaterThan(200);
    }
  });

  it('the cold store is indoors, its sill is at a window', () => {
    const skyOf = (id: string) => {
      const p = map.points.get(id);
      return p && map.skyAt(p.lonDeg, p.latDeg);
    };
    expect([skyOf('cold-store'), skyOf('cold-store-sill'), skyOf('skarholt-shop')]).toEqual([
      'indoor',
      'window',
      'street',
    ]);
    expect(map.points.has('ostrel-quay')).toBe(true);
  });

  it('the boat lane runs through exactly 0, 0; the lagoon holds 180', () => {
    const reef = builtinPlace('zero-reef');
    expect(reef.lines.get('boat-lane')?.points.some((p) => p.lonDeg === 0 && p.latDeg === 0)).toBe(true);
    expect(reef.skyAt(0, 0)).toBe('open');
    const shoal = builtinPlace('halfday-shoal');
    for (const lonDeg of [179.99, -180, -179.99]) expect(shoal.skyAt(lonDeg, -12)).toBe('open');
    expect(shoal.skyAt(0, -12)).toBeUndefined();
    const road = shoal.lines.get('causeway');
    const [first, last] = [road?.points[0], road?.points.at(-1)];
    expect(first && last && distanceM(first, last)).toBe(0);
    expect(road?.lengthM).toBeLessThan(20_000);
  });
});
