// What the GNSS receiver says: whether it has a fix, and a position with a plausible error.
// The error is a first-order Gauss-Markov process on each axis: neighbouring fixes err alike, as real ones do.
import type { Sky } from '../place/place.ts';
import type { RandomStream } from '../random.ts';
import type { Reading } from '../reading.ts';
import type { GnssPlan } from '../scenario/scenario.ts';
import { Acquisition } from './gnss-acquisition.ts';
import { hdopOf, MULTIPATH, satellitesUsed } from './gnss-sky.ts';
import { GaussMarkov } from './gauss-markov.ts';
import { OnGrid } from './on-grid.ts';
import { lonDegE7, quantiserOf } from './quantise.ts';
import type { MotionState } from './motion-state.ts';

/** The GNSS part of a reading. */
export type GnssSample = Pick<
  Reading,
  | 'fix'
  | 'latDegE7'
  | 'lonDegE7'
  | 'altME1'
  | 'speedMpsE2'
  | 'courseDegE1'
  | 'satellites'
  | 'hdopE1'
  | 'accuracyME1'
> & {
  /** The receiver knows the time: with a fix, it does. */
  readonly timeKnown: boolean;
};

/** One degree of a great circle on the sphere of mean radius 6371008.8 m. */
const M_PER_DEG = 111_195.0802;
const DEG = Math.PI / 180;
/** Keeps the east error finite at a pole, where every longitude is the same place. */
const LEAST_COS_LAT = 1e-6;
/** Heights err more than horizontal positions, for satellites are seen only above (common practice: 1.5 to 2). */
const VERTICAL_RATIO = 1.7;
/** Error of the velocity in open sky, m/s on each axis (common practice for Doppler velocity: 0.05 to 0.1). */
const VELOCITY_SIGMA_MPS = 0.1;
/** Below this the course is noise, and isn't told. */
const LEAST_COURSE_SPEED_MPS = 0.5;
/** The set of satellites changes more slowly than the error. */
const SATELLITES_CORRELATION_S = 600;
const SATELLITES_GRID_MS = 30_000;
const LEAST_3D_SATELLITES = 4;

const LAT = quantiserOf('latDegE7');
const ALT = quantiserOf('altME1');
const SPEED = quantiserOf('speedMpsE2');
const HDOP = quantiserOf('hdopE1');
const ACCURACY = quantiserOf('accuracyME1');

/** One tracker's receiver. Times never go back from one call to the next. */
export class GnssModel {
  readonly #plan: GnssPlan;
  readonly #random: RandomStream;
  readonly #acquisition = new Acquisition();
  // Unit processes, scaled by the sky of the moment.
  readonly #north: GaussMarkov;
  readonly #east: GaussMarkov;
  readonly #up: GaussMarkov;
  readonly #geometry: OnGrid;
  #lastLatDegE7: number | null = null;
  #lastLonDegE7: number | null = null;
  #lastAltME1: number | null = null;

  /** The receiver is off until `powerOn`. */
  constructor(plan: GnssPlan, random: RandomStream) {
    this.#plan = plan;
    this.#random = random;
    this.#north = new GaussMarkov(1, plan.correlationS, random);
    this.#east = new GaussMarkov(1, plan.correlationS, random);
    this.#up = new GaussMarkov(1, plan.correlationS, random);
    this.#geometry = new OnGrid(new GaussMarkov(1, SATELLITES_CORRELATION_S, random), SATELLITES_GRID_MS);
  }

  powerOn(atMs: number): void {
    this.#acquisition.powerOn(atMs);
  }

  /** Ephemeris and last position are kept by the receiver's backup supply. */
  powerOff(atMs: number): void {
    this.#acquisition.powerOff(atMs);
  }

  /** What the receiver says at a moment. Draws the same count of numbers whatever it sees or says. */
  sample(atMs: number, truth: MotionState, sky: Sky): GnssSample {
    const random = this.#random;
    const north = this.#north.at(atMs);
    const east = this.#east.at(atMs);
    const up = this.#up.at(atMs);
    const geometry = this.#geometry.at(atMs);
    const alongNoise = random.gauss();
    const acrossNoise = random.gauss();
    const share = random.next();
    if (!this.#acquisition.update(atMs, sky, share)) return this.#withoutFix(share);

    const satellites = satellitesUsed(sky, geometry);
    const hdop = hdopOf(satellites);
    // DRMS = HDOP x range error; the plan states it for HDOP 1 in open sky.
    const drmsM = this.#plan.drmsM * MULTIPATH[sky] * hdop;
    const axisDeg = (drmsM * Math.SQRT1_2) / M_PER_DEG;
    const cosLat = Math.max(Math.cos(truth.latDeg * DEG), LEAST_COS_LAT);

    const velocitySigma = VELOCITY_SIGMA_MPS * MULTIPATH[sky];
    const along = truth.speedMps + velocitySigma * alongNoise;
    const across = velocitySigma * acrossNoise;
    const speedMps = Math.sqrt(along * along + across * across);

    const is3d = satellites >= LEAST_3D_SATELLITES;
    // A 2D fix holds the last height; the sea's, when there was none (common practice).
    const altME1 = is3d ? ALT.of(truth.altM + VERTICAL_RATIO * drmsM * up) : (this.#lastAltME1 ?? 0);
    this.#lastLatDegE7 = LAT.of(truth.latDeg + axisDeg * north);
    this.#lastLonDegE7 = lonDegE7(truth.lonDeg + (axisDeg * east) / cosLat);
    this.#lastAltME1 = altME1;
    return {
      fix: is3d ? '3d' : '2d',
      latDegE7: this.#lastLatDegE7,
      lonDegE7: this.#lastLonDegE7,
      altME1,
      speedMpsE2: SPEED.of(speedMps),
      courseDegE1:
        speedMps < LEAST_COURSE_SPEED_MPS
          ? null
          : courseDegE1(truth.courseDeg + Math.atan2(across, along) / DEG),
      satellites,
      hdopE1: HDOP.of(hdop),
      accuracyME1: ACCURACY.of(drmsM),
      timeKnown: true,
    };
  }

  #withoutFix(share: number): GnssSample {
    const repeats = this.#plan.withoutFix === 'last-known' && this.#lastLatDegE7 !== null;
    return {
      fix: repeats ? 'last' : 'none',
      latDegE7: repeats ? this.#lastLatDegE7 : null,
      lonDegE7: repeats ? this.#lastLonDegE7 : null,
      altME1: repeats ? this.#lastAltME1 : null,
      speedMpsE2: null,
      courseDegE1: null,
      // Too few for a fix: 0, 1 or 2.
      satellites: Math.floor(share * 3),
      hdopE1: null,
      accuracyME1: null,
      timeKnown: false,
    };
  }
}

/** Course as whole tenths of a degree in [0, 360). */
function courseDegE1(courseDeg: number): number {
  const tenths = (Math.round(courseDeg * 10) % 3600) | 0;
  return tenths < 0 ? tenths + 3600 : tenths;
}
