import { booleanPointInPolygon, polygon } from '@turf/turf';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { jsonSource } from '../../sim/place/json-source.ts';
import { readPath, readRing } from '../../sim/place/geometry.ts';
import { insideRing, readyRing, signedAreaM2, unwrap } from '../../sim/place/ring.ts';
import { builtinPlace, BUILTIN_PLACES } from '../../sim/place/read-place.ts';

const source = jsonSource('inline.geojson', '{}');
const pathOf = (geometry: object) => readPath(source, geometry, '/geometry').map((p) => [p.lonDeg, p.latDeg]);
const ringOf = (geometry: object) => readRing(source, geometry, '/geometry');

describe('RFC 7946 section 3.1.9, antimeridian cutting', () => {
  // The two examples of that section: a line and a polygon, cut in two at 180 degrees.
  it('joins the cut line 45 N, 170 E to 45 N, 170 W', () => {
    const cut = {
      type: 'MultiLineString',
      coordinates: [
        [
          [170, 45],
          [180, 45],
        ],
        [
          [-180, 45],
          [-170, 45],
        ],
      ],
    };
    expect(pathOf(cut)).toEqual([
      [170, 45],
      [-180, 45],
      [-170, 45],
    ]);
  });

  const cutPolygon = {
    type: 'MultiPolygon',
    coordinates: [
      [
        [
          [180, 40],
          [180, 50],
          [170, 50],
          [170, 40],
          [180, 40],
        ],
      ],
      [
        [
          [-170, 40],
          [-170, 50],
          [-180, 50],
          [-180, 40],
          [-170, 40],
        ],
      ],
    ],
  };

  it('joins the cut polygon 40 N to 50 N, 170 E to 170 W into one ring', () => {
    const ring = readyRing(ringOf(cutPolygon));
    expect([ring.westDeg, ring.eastDeg, ring.southDeg, ring.northDeg]).toEqual([170, 190, 40, 50]);
    for (const lonDeg of [170.1, 179.9, -180, -179.9, -170.1])
      expect(insideRing(ring, lonDeg, 45)).toBe(true);
    for (const lonDeg of [169.9, -169.9, 0]) expect(insideRing(ring, lonDeg, 45)).toBe(false);
  });

  it('reads the same polygon uncut, jumping from 170 to -170', () => {
    const uncut = {
      type: 'Polygon',
      coordinates: [
        [
          [170, 40],
          [-170, 40],
          [-170, 50],
          [170, 50],
          [170, 40],
        ],
      ],
    };
    const [one, other] = [readyRing(ringOf(uncut)), readyRing(ringOf(cutPolygon))];
    fc.assert(
      fc.property(
        fc.double({ min: -180, max: 180, maxExcluded: true, noNaN: true }),
        fc.double({ min: 35, max: 55, noNaN: true }),
        (lonDeg, latDeg) => insideRing(one, lonDeg, latDeg) === insideRing(other, lonDeg, latDeg),
      ),
      { seed: 7946, numRuns: 500 },
    );
    expect(signedAreaM2(ringOf(uncut))).toBeCloseTo(signedAreaM2(ringOf(cutPolygon)), -3);
  });
});

describe('RFC 7946 section 3.1.6, polygons', () => {
  it('takes a clockwise ring and turns it counter-clockwise', () => {
    const clockwise = [
      [0, 0],
      [0, 1],
      [1, 1],
      [1, 0],
      [0, 0],
    ];
    const ring = ringOf({ type: 'Polygon', coordinates: [clockwise] });
    expect(signedAreaM2(ring)).toBeGreaterThan(0);
    expect(ring).toHaveLength(4);
  });

  it('refuses an open ring and a ring of three positions', () => {
    expect(() =>
      ringOf({
        type: 'Polygon',
        coordinates: [
          [
            [0, 0],
            [1, 0],
            [1, 1],
            [0, 1],
          ],
        ],
      }),
    ).toThrow(/closed ring/);
    expect(() =>
      ringOf({
        type: 'Polygon',
        coordinates: [
          [
            [0, 0],
            [1, 0],
            [0, 0],
          ],
        ],
      }),
    ).toThrow(/4 or more/);
  });

  it.each(BUILTIN_PLACES)('%s: every ring is counter-clockwise and has an area', (name) => {
    for (const area of builtinPlace(name).areas.values()) expect(signedAreaM2(area.ring)).toBeGreaterThan(0);
  });
});

describe('inside a ring, against @turf/turf', () => {
  it('agrees on the islands, away from the antimeridian', () => {
    const area = builtinPlace('tarn-isles').areas.get('great-tarn');
    const ring = area?.ring ?? [];
    const closed = [...ring, ...ring.slice(0, 1)].map((p) => [p.lonDeg, p.latDeg]);
    const [turf, ours] = [polygon([closed]), readyRing(ring)];
    let inside = 0;
    fc.assert(
      fc.property(
        fc.double({ min: -14.3, max: -14.1, noNaN: true }),
        fc.double({ min: -38.46, max: -38.34, noNaN: true }),
        (lonDeg, latDeg) => {
          const is = insideRing(ours, lonDeg, latDeg);
          if (is) inside += 1;
          expect(is).toBe(booleanPointInPolygon([lonDeg, latDeg], turf));
        },
      ),
      { seed: 7946, numRuns: 1000 },
    );
    expect(inside).toBeGreaterThan(100);
    expect(inside).toBeLessThan(900);
  });
});

describe('unwrapping', () => {
  it('neighbours never differ by more than 180, and meridians stay the same', () => {
    const lon = fc.integer({ min: -180, max: 179 });
    fc.assert(
      fc.property(
        fc.array(fc.record({ lonDeg: lon, latDeg: fc.constant(0) }), { minLength: 1 }),
        (points) => {
          const out = unwrap(points);
          out.forEach((p, i) => {
            expect(Math.abs(p.lonDeg - (out[i - 1] ?? p).lonDeg)).toBeLessThanOrEqual(180);
            expect(Math.abs((p.lonDeg - (points[i]?.lonDeg ?? NaN)) % 360)).toBe(0);
          });
        },
      ),
      { seed: 7946 },
    );
  });
});
