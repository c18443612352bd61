// How long the receiver takes to find itself, and when it loses the fix.
import { HOUR_MS } from '../clock.ts';
import type { Sky } from '../place/place.ts';
import { ACQUISITION_RATE } from './gnss-sky.ts';

/** What the receiver still knows when it begins to search. */
export type Start = 'cold' | 'warm' | 'hot';

/** Time to first fix in open sky, seconds, least and most (common practice; tune, don't assert). */
export const FIRST_FIX_S: Readonly<Record<Start, readonly [number, number]>> = {
  /** Nothing known. */
  cold: [30, 60],
  /** Almanac, rough time and place known; the ephemeris is too old. */
  warm: [20, 45],
  /** Ephemeris known. */
  hot: [1, 5],
};

/** How long an ephemeris is used (GPS, common practice). */
export const EPHEMERIS_MS = 4 * HOUR_MS;

/** With what knowledge a search begins, by the time since the last fix (Infinity: there never was one). */
export function startAfter(sinceFixMs: number): Start {
  if (sinceFixMs === Infinity) return 'cold';
  return sinceFixMs <= EPHEMERIS_MS ? 'hot' : 'warm';
}

/** The fix state of one receiver, moved on from sample to sample. */
export class Acquisition {
  #powered = false;
  #fixed = false;
  /** Time up to which the search is accounted for. */
  #untilMs = 0;
  /** NaN: nothing is known of the sky before. */
  #rateBefore = Number.NaN;
  #lastFixMs = -Infinity;
  #gainedS = 0;
  #neededS: number | undefined;

  powerOn(atMs: number): void {
    if (this.#powered) return;
    this.#powered = true;
    this.#untilMs = atMs;
    this.#rateBefore = Number.NaN;
    this.#startAgain();
  }

  powerOff(atMs: number): void {
    if (this.#fixed) this.#lastFixMs = atMs;
    this.#powered = false;
    this.#startAgain();
  }

  /** Whether there is a fix now. `share` in [0, 1) decides, at the start of a search, how long it will take. */
  update(atMs: number, sky: Sky, share: number): boolean {
    if (!this.#powered) return false;
    const rate = ACQUISITION_RATE[sky];
    if (rate === 0) {
      this.#startAgain();
    } else if (!this.#fixed) {
      this.#search(atMs, rate, share);
    }
    if (this.#fixed) this.#lastFixMs = atMs;
    this.#untilMs = atMs;
    this.#rateBefore = rate;
    return this.#fixed;
  }

  #search(atMs: number, rate: number, share: number): void {
    if (this.#neededS === undefined) {
      const [least, most] = FIRST_FIX_S[startAfter(this.#untilMs - this.#lastFixMs)];
      this.#neededS = least + share * (most - least);
    }
    // Between two samples the sky is taken to change halfway.
    const before = Number.isNaN(this.#rateBefore) ? rate : this.#rateBefore;
    this.#gainedS += ((atMs - this.#untilMs) / 1000) * ((rate + before) / 2);
    this.#fixed = this.#gainedS >= this.#neededS;
  }

  #startAgain(): void {
    this.#fixed = false;
    this.#gainedS = 0;
    this.#neededS = undefined;
  }
}
