import * as fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { HOUR_MS } from '../../sim/clock.ts';
import type { Sky } from '../../sim/place/place.ts';
import { randomStream } from '../../sim/random.ts';
import { FIELDS } from '../../sim/reading.ts';
import type { GnssPlan } from '../../sim/scenario/scenario.ts';
import { GnssModel, type GnssSample } from '../../sim/tracker/gnss.ts';
import { EPHEMERIS_MS, startAfter } from '../../sim/tracker/gnss-acquisition.ts';
import { mean } from '../support/statistics.ts';

const PLAN: GnssPlan = { drmsM: 3, correlationS: 60, withoutFix: 'nothing' };
const PARKED = { lonDeg: -14.2, latDeg: -38.4, altM: 20, speedMps: 0, courseDeg: 0, moving: false };
const START_MS = 1_930_000_000_000;

const model = (seed: string, plan: GnssPlan = PLAN): GnssModel =>
  new GnssModel(plan, randomStream(seed, 'gnss'));

/** Seconds from power-on to the first fix, asked every second; Infinity without one in an hour. */
function firstFixS(gnss: GnssModel, fromMs: number, sky: Sky): number {
  for (let s = 0; s <= 3600; s++) {
    if (gnss.sample(fromMs + s * 1000, PARKED, sky).timeKnown) return s;
  }
  return Infinity;
}

describe('fix', () => {
  const seeds = Array.from({ length: 60 }, (_, k) => `seed ${k}`);

  // The ranges are common practice.
  it.each<[Sky, number, number]>([
    ['open', 30, 61],
    ['street', 60, 121],
    ['window', 180, 361],
    ['indoor', Infinity, Infinity],
    ['tunnel', Infinity, Infinity],
  ])('cold start under %s: %d to %d s', (sky, least, most) => {
    const times = seeds.slice(0, least === Infinity ? 2 : seeds.length).map((seed) => {
      const gnss = model(seed);
      gnss.powerOn(START_MS);
      return firstFixS(gnss, START_MS, sky);
    });
    for (const time of times) {
      expect(time).toBeGreaterThanOrEqual(least);
      expect(time).toBeLessThanOrEqual(most);
    }
    expect(new Set(times).size).toBeGreaterThan(least === Infinity ? 0 : 10);
  });

  it.each([
    ['hot', 3 * HOUR_MS, 1, 6],
    ['warm', 5 * HOUR_MS, 20, 46],
  ])('%s start after a power cut of %d ms', (_, offMs, least, most) => {
    for (const seed of seeds) {
      const gnss = model(seed);
      gnss.powerOn(START_MS);
      expect(gnss.sample(START_MS + 60_000, PARKED, 'open').fix).not.toBe('none');
      gnss.powerOff(START_MS + 120_000);
      expect(gnss.sample(START_MS + 150_000, PARKED, 'open').fix).toBe('none');
      const onMs = START_MS + 120_000 + offMs;
      gnss.powerOn(onMs);
      const time = firstFixS(gnss, onMs, 'open');
      expect(time).toBeGreaterThanOrEqual(least);
      expect(time).toBeLessThanOrEqual(most);
    }
  });

  it('an ephemeris serves for four hours (GPS, common practice)', () => {
    expect(startAfter(EPHEMERIS_MS)).toBe('hot');
    expect(startAfter(EPHEMERIS_MS + 1)).toBe('warm');
    expect(startAfter(Infinity)).toBe('cold');
    expect(EPHEMERIS_MS).toBe(4 * 3600 * 1000);
  });

  it('is lost at once in a tunnel and back within seconds behind it', () => {
    const gnss = model('tunnel');
    gnss.powerOn(START_MS);
    expect(gnss.sample(START_MS + 60_000, PARKED, 'open').timeKnown).toBe(true);
    expect(gnss.sample(START_MS + 61_000, PARKED, 'tunnel').fix).toBe('none');
    expect(gnss.sample(START_MS + 120_000, PARKED, 'tunnel').fix).toBe('none');
    expect(firstFixS(gnss, START_MS + 121_000, 'open')).toBeLessThanOrEqual(6);
  });

  it('the ephemeris ages from the moment the power went, not from the reading before', () => {
    const gnss = model('ages');
    gnss.powerOn(START_MS);
    gnss.sample(START_MS + 60_000, PARKED, 'open');
    gnss.powerOff(START_MS + 3 * HOUR_MS);
    gnss.powerOn(START_MS + 6 * HOUR_MS);
    expect(firstFixS(gnss, START_MS + 6 * HOUR_MS, 'open')).toBeLessThanOrEqual(6);
  });

  it('between two readings the sky changes halfway', () => {
    for (const seed of seeds) {
      const after = (s: number): boolean => {
        const gnss = model(seed);
        gnss.powerOn(START_MS);
        gnss.sample(START_MS, PARKED, 'indoor');
        return gnss.sample(START_MS + s * 1000, PARKED, 'open').timeKnown;
      };
      // A cold start takes 30 to 60 s of open sky: 29 s and 61 s of it.
      expect(after(58)).toBe(false);
      expect(after(122)).toBe(true);
    }
  });

  it('an indoor stop longer than the ephemeris ends in a warm start', () => {
    const gnss = model('indoor');
    gnss.powerOn(START_MS);
    gnss.sample(START_MS + 60_000, PARKED, 'open');
    gnss.sample(START_MS + 60_000 + 5 * HOUR_MS, PARKED, 'indoor');
    expect(firstFixS(gnss, START_MS + 60_001 + 5 * HOUR_MS, 'open')).toBeGreaterThanOrEqual(20);
  });

  it('without one says nothing, or the last known position, as planned', () => {
    const nothing = { latDegE7: null, lonDegE7: null, altME1: null, speedMpsE2: null, courseDegE1: null };
    const keeps = model('last', { ...PLAN, withoutFix: 'last-known' });
    keeps.powerOn(START_MS);
    // There never was a position to repeat.
    expect(keeps.sample(START_MS, PARKED, 'open')).toMatchObject({ fix: 'none', ...nothing });
    const { latDegE7, lonDegE7, altME1 } = keeps.sample(START_MS + 60_000, PARKED, 'open');
    const repeated = { fix: 'last', latDegE7, lonDegE7, altME1, speedMpsE2: null, timeKnown: false };
    const away = { ...PARKED, latDeg: 10 };
    expect(keeps.sample(START_MS + 90_000, away, 'tunnel')).toMatchObject(repeated);
    keeps.powerOff(START_MS + 100_000);
    expect(keeps.sample(START_MS + 110_000, away, 'open')).toMatchObject(repeated);

    const says = model('last');
    says.powerOn(START_MS);
    says.sample(START_MS + 60_000, PARKED, 'open');
    const lost = says.sample(START_MS + 90_000, PARKED, 'tunnel');
    expect(lost).toMatchObject({ fix: 'none', ...nothing, hdopE1: null, accuracyME1: null });
    expect(lost.satellites).toBeLessThan(3);
  });
});

describe('what a fix says', () => {
  /** Fixes after a minute in the open. */
  function fixes(n: number, truth: typeof PARKED, sky: Sky, everyMs = 60_000): GnssSample[] {
    const gnss = model('fixes');
    gnss.powerOn(START_MS);
    gnss.sample(START_MS + 60_000, truth, 'open');
    return Array.from({ length: n }, (_, k) =>
      gnss.sample(START_MS + 60_000 + (k + 1) * everyMs, truth, sky),
    );
  }

  it('a worse sky: fewer satellites, higher HDOP, larger stated error', () => {
    const of = (sky: Sky, key: 'satellites' | 'hdopE1' | 'accuracyME1'): number =>
      mean(fixes(2000, PARKED, sky).map((s) => s[key] ?? Number.NaN));
    const skies = ['open', 'street', 'window'] as const;
    for (const [better, worse] of [skies.slice(0, 2), skies.slice(1)] as [Sky, Sky][]) {
      expect(of(worse, 'satellites')).toBeLessThan(of(better, 'satellites'));
      expect(of(worse, 'hdopE1')).toBeGreaterThan(of(better, 'hdopE1'));
      expect(of(worse, 'accuracyME1')).toBeGreaterThan(of(better, 'accuracyME1'));
    }
  });

  it('three satellites make a 2D fix, and it holds the height', () => {
    const samples = fixes(5000, PARKED, 'window');
    expect(samples.map((s) => s.fix)).toEqual(samples.map((s) => (s.satellites === 3 ? '2d' : '3d')));
    const flat = [...samples.entries()].filter(([k, s]) => k > 0 && s.fix === '2d');
    expect(flat.length).toBeGreaterThan(50);
    for (const [k, s] of flat) expect(s.altME1).toBe(samples[k - 1]?.altME1);
  });

  it('no course below 0.5 m/s; on the move, speed and course close to the truth', () => {
    for (const s of fixes(500, PARKED, 'open')) {
      expect(s.courseDegE1 === null).toBe((s.speedMpsE2 ?? 0) < 50);
    }
    const north = { ...PARKED, speedMps: 8, courseDeg: 359.9, moving: true };
    const courses = fixes(2000, north, 'open').map((s) => {
      const course = s.courseDegE1 ?? Number.NaN;
      expect(course).toBeGreaterThanOrEqual(0);
      expect(course).toBeLessThan(3600);
      expect(Math.abs((s.speedMpsE2 ?? 0) - 800)).toBeLessThan(60);
      return course > 1800 ? course - 3600 : course;
    });
    expect(Math.abs(mean(courses) - -1)).toBeLessThan(1);
    expect(Math.max(...courses)).toBeLessThan(60);
  });

  it('stays on the map at the antimeridian and at the poles', () => {
    for (const lonDeg of [179.99999999, -180, 179.99999]) {
      const lons = fixes(300, { ...PARKED, lonDeg }, 'open').map((s) => s.lonDegE7 ?? Number.NaN);
      expect(lons.some((lon) => lon < -1_790_000_000)).toBe(true);
      expect(lons.every((lon) => lon >= -1_800_000_000 && lon < 1_800_000_000)).toBe(true);
    }
    for (const latDeg of [90, -90]) {
      for (const s of fixes(300, { ...PARKED, latDeg }, 'open')) {
        expect(Math.abs(s.latDegE7 ?? Number.NaN)).toBeLessThanOrEqual(900_000_000);
        expect(Math.abs(s.lonDegE7 ?? Number.NaN)).toBeLessThanOrEqual(1_800_000_000);
      }
    }
  });
});

describe('laws', () => {
  const truths = fc.record({
    lonDeg: fc.double({ min: -180, max: 179.9999999, noNaN: true }),
    latDeg: fc.double({ min: -90, max: 90, noNaN: true }),
    altM: fc.double({ min: -400, max: 9000, noNaN: true }),
    speedMps: fc.double({ min: 0, max: 60, noNaN: true }),
    courseDeg: fc.double({ min: 0, max: 359.99, noNaN: true }),
    moving: fc.boolean(),
  });
  const skies = fc.constantFrom<Sky>('open', 'street', 'window', 'indoor', 'tunnel');
  const steps = fc.array(
    fc.record({
      dtMs: fc.integer({ min: 0, max: 8 * HOUR_MS }),
      truth: truths,
      sky: skies,
      power: fc.constantFrom('keep', 'on', 'off'),
    }),
    { minLength: 1, maxLength: 40 },
  );
  const plans = fc.record({
    drmsM: fc.double({ min: 0, max: 500, noNaN: true }),
    correlationS: fc.double({ min: 0, max: 10_000, noNaN: true }),
    withoutFix: fc.constantFrom<GnssPlan['withoutFix']>('nothing', 'last-known'),
  });
  type Steps = typeof steps extends fc.Arbitrary<infer T> ? T : never;

  function play(plan: GnssPlan, seed: string, script: Steps): GnssSample[] {
    const gnss = model(seed, plan);
    gnss.powerOn(START_MS);
    let atMs = START_MS;
    return script.map(({ dtMs, truth, sky, power }) => {
      atMs += dtMs;
      if (power === 'on') gnss.powerOn(atMs);
      if (power === 'off') gnss.powerOff(atMs);
      return gnss.sample(atMs, truth, sky);
    });
  }

  it('same seed, same samples; whole numbers within the bounds of FIELDS; position null together', () => {
    fc.assert(
      fc.property(plans, fc.string(), steps, (plan, seed, script) => {
        const samples = play(plan, seed, script);
        expect(play(plan, seed, script)).toStrictEqual(samples);
        for (const s of samples) {
          for (const field of FIELDS) {
            if (field.kind !== 'number' || !(field.key in s)) continue;
            const value = s[field.key as keyof GnssSample] as number | null;
            if (value === null) continue;
            expect(Number.isInteger(value) && !Object.is(value, -0)).toBe(true);
            expect(value).toBeGreaterThanOrEqual(field.min * 10 ** field.decimals);
            expect(value).toBeLessThanOrEqual(field.max * 10 ** field.decimals);
          }
          const nulls = [s.latDegE7, s.lonDegE7, s.altME1].map((value) => value === null);
          expect(new Set(nulls).size).toBe(1);
          expect(nulls[0]).toBe(s.fix === 'none');
          expect(s.timeKnown).toBe(s.fix === '2d' || s.fix === '3d');
          expect(s.hdopE1 === null).toBe(!s.timeKnown);
        }
      }),
      { seed: 4101, numRuns: 200 },
    );
  });

  it('what the sky was earlier leaves no trace once both have a fix again', () => {
    const [a, b] = [model('trace'), model('trace')];
    for (const gnss of [a, b]) gnss.powerOn(START_MS);
    const [open, through] = [a, b].map((gnss) =>
      Array.from({ length: 200 }, (_, k) => {
        const sky = gnss === b && k >= 50 && k < 100 ? 'tunnel' : 'open';
        // The height apart: a 2D fix repeats an older one.
        return { ...gnss.sample(START_MS + (k + 1) * 60_000, PARKED, sky), altME1: 0 };
      }),
    );
    expect(through?.[60]).not.toStrictEqual(open?.[60]);
    expect(through?.slice(101)).toStrictEqual(open?.slice(101));
  });
});
