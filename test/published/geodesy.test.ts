import { bearing, destination as turfDestination, distance } from '@turf/turf';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  destination,
  distanceM,
  initialBearingDeg,
  interpolate,
  wrapLonDeg,
} from '../../sim/place/sphere.ts';

const at = (latDeg: number, lonDeg: number) => ({ latDeg, lonDeg });
const FLINDERS = at(-37.9510334167, 144.4248678889);
const BUNINYONG = at(-37.6528211389, 143.9264955278);
const JFK = at(40.6, -73.8);
const LHR = at(51.6, -0.5);

// Lengths and azimuths of geodesics on the WGS 84 ellipsoid. Flinders Peak to Buninyong: the worked example of the
// Australian geodetic survey's technical manual; the others: examples in the documentation of C. Karney's
// GeographicLib and test pairs on which simple iterations fail. Where each pair stands is from memory.
const GEODESICS = [
  { from: FLINDERS, to: BUNINYONG, lengthM: 54_972.271, azimuthDeg: 306.868159 },
  { from: JFK, to: LHR, lengthM: 5_551_759.400319, azimuthDeg: 51.198882846 },
  { from: at(0, 0), to: at(0.5, 179.5), lengthM: 19_936_288.578965, azimuthDeg: undefined },
  { from: at(0, 0), to: at(0.5, 179.7), lengthM: 19_944_127.42075, azimuthDeg: undefined },
  { from: at(-41.32, 174.81), to: at(40.96, -5.5), lengthM: 19_959_679.267354, azimuthDeg: undefined },
  { from: at(0, 179.5), to: at(0, -179.5), lengthM: 111_319.490793, azimuthDeg: 90 },
  { from: at(0, 0), to: at(90, 77), lengthM: 10_001_965.729313, azimuthDeg: 0 },
];

describe('distances against geodesics of the ellipsoid', () => {
  it.each(GEODESICS)('$from to $to within 0.6 %', ({ from, to, lengthM, azimuthDeg }) => {
    expect(Math.abs(distanceM(from, to) / lengthM - 1)).toBeLessThan(0.006);
    // The sphere's azimuth is off too, by about 0.2 degrees at most (derived: the difference of geodetic and
    // geocentric latitude is at most 0.192 degrees).
    if (azimuthDeg !== undefined) {
      expect(Math.abs(initialBearingDeg(from, to) - azimuthDeg)).toBeLessThan(0.2);
    }
  });
});

describe('distances on the sphere of mean radius 6371008.8 m', () => {
  // Computed by the haversine formula apart from this code.
  it.each([
    [FLINDERS, BUNINYONG, 54_925.50777],
    [JFK, LHR, 5_536_891.987228],
    [at(0, 179.5), at(0, -179.5), 111_195.080234],
  ])('%o to %o is %d m', (from, to, lengthM) => {
    expect(distanceM(from, to)).toBeCloseTo(lengthM, 4);
  });
});

const lat = fc.double({ min: -89, max: 89, noNaN: true });
const lon = fc.double({ min: -180, max: 180, maxExcluded: true, noNaN: true });
const position = fc.record({ lonDeg: lon, latDeg: lat });
const xy = (p: { lonDeg: number; latDeg: number }) => [p.lonDeg, p.latDeg];
const fixed = { seed: 20_310_303, numRuns: 300 };

/** Difference of two directions or meridians, whatever turn they are written in. */
const turnDeg = (a: number, b: number) => Math.abs(wrapLonDeg(a - b));

describe('the sphere against @turf/turf, a general geometry library', () => {
  it('same distance', () => {
    fc.assert(
      fc.property(position, position, (a, b) => {
        const turfM = distance(xy(a), xy(b), { units: 'meters' });
        expect(Math.abs(distanceM(a, b) - turfM)).toBeLessThan(1e-6 * turfM + 1e-3);
      }),
      fixed,
    );
  });

  it('same initial bearing', () => {
    fc.assert(
      fc.property(position, position, (a, b) => {
        const metres = distanceM(a, b);
        // Between neighbours and between antipodes a bearing is rounding noise.
        fc.pre(metres > 10 && metres < 20_000_000);
        expect(turnDeg(initialBearingDeg(a, b), bearing(xy(a), xy(b)))).toBeLessThan(1e-6);
      }),
      fixed,
    );
  });

  it('same destination, but with the longitude wrapped, which turf leaves beyond ±180', () => {
    fc.assert(
      fc.property(
        position,
        fc.double({ min: 0, max: 360, noNaN: true }),
        fc.double({ min: 0, max: 1e7, noNaN: true }),
        (from, courseDeg, metres) => {
          const ours = destination(from, courseDeg, metres);
          const [lonDeg = NaN, latDeg = NaN] = turfDestination(xy(from), metres, courseDeg, {
            units: 'meters',
          }).geometry.coordinates;
          expect(ours.lonDeg).toBeGreaterThanOrEqual(-180);
          expect(ours.lonDeg).toBeLessThan(180);
          expect(distanceM(ours, { lonDeg: wrapLonDeg(lonDeg), latDeg })).toBeLessThan(0.5);
        },
      ),
      fixed,
    );
  });

  it('goes from 179.99 E, 10 N eastward over the antimeridian', () => {
    const ours = destination(at(10, 179.99), 90, 5000);
    const turf = turfDestination([179.99, 10], 5000, 90, { units: 'meters' }).geometry.coordinates[0] ?? NaN;
    expect(turf).toBeGreaterThan(180);
    expect(ours.lonDeg).toBeCloseTo(turf - 360, 9);
  });
});

describe('laws of the sphere', () => {
  it('a fraction of the way is that fraction of the distance', () => {
    fc.assert(
      fc.property(position, position, fc.double({ min: 0, max: 1, noNaN: true }), (a, b, fraction) => {
        const whole = distanceM(a, b);
        fc.pre(whole < 20_000_000);
        const p = interpolate(a, b, fraction);
        expect(Math.abs(distanceM(a, p) - whole * fraction)).toBeLessThan(0.01);
        expect(Math.abs(distanceM(p, b) - whole * (1 - fraction))).toBeLessThan(0.01);
      }),
      fixed,
    );
  });

  it('wrapping keeps the meridian, lands in [-180, 180) and leaves wrapped longitudes alone', () => {
    fc.assert(
      fc.property(lon, fc.integer({ min: -5, max: 5 }), (lonDeg, turns) => {
        const wrapped = wrapLonDeg(lonDeg + 360 * turns);
        expect(wrapped >= -180 && wrapped < 180).toBe(true);
        expect(turnDeg(wrapped, lonDeg)).toBeLessThan(1e-9);
        expect(wrapLonDeg(wrapped)).toBe(wrapped);
      }),
      fixed,
    );
    expect(wrapLonDeg(180)).toBe(-180);
    expect(wrapLonDeg(-180 - 1e-14)).toBe(-180);
    expect(Object.is(wrapLonDeg(-0), 0)).toBe(true);
  });
});
