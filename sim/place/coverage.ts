// Sky and received power from a map: asked once for each reading, so nothing is allocated here.
import type { Sky } from './place.ts';
import { insideRing } from './ring.ts';
import type { ReadyRing } from './ring.ts';
import { EARTH_RADIUS_M } from './sphere.ts';

const RAD = Math.PI / 180;

/** A cellular base station. */
export interface Mast {
  readonly lonDeg: number;
  readonly latDeg: number;
  /** Height of the antenna above the sea, metres. */
  readonly altM: number;
  /** Median RSRP 1 km away, dBm. */
  readonly powerAt1kmDbm: number;
  /** Path loss grows by 10 × this many dB with each tenfold distance; 2 = free space. */
  readonly exponent: number;
}

/** An area with a say on one thing. The first of a list that holds the position wins. */
export interface Zone<T> {
  readonly ring: ReadyRing;
  readonly value: T;
}

/** Weakest median at which a device still finds the cell (common practice for LTE-M and NB-IoT images without deep repetition). */
const WEAKEST_DBM = -130;
/** Top of the reporting range of RSRP, −140 … −44 dBm (3GPP TS 36.133 clause 9.1.4). */
const HIGHEST_REPORT_DBM = -44;
/** Nearer than this the log-distance model means nothing. */
const NEAREST_M = 10;

function zoneAt<T>(zones: readonly Zone<T>[], lonDeg: number, latDeg: number): T | undefined {
  for (const zone of zones) if (insideRing(zone.ring, lonDeg, latDeg)) return zone.value;
  return undefined;
}

export function skyFrom(zones: readonly Zone<Sky>[]): (lonDeg: number, latDeg: number) => Sky | undefined {
  return (lonDeg, latDeg) => zoneAt(zones, lonDeg, latDeg);
}

/**
 * Median RSRP of the strongest mast, by the log-distance path-loss model over the straight-line distance d:
 * `powerAt1kmDbm − 10 n log10(d / 1 km)`, plus the decibels of the area the position is in.
 * Null in an area without coverage and below −130 dBm; never above −44 dBm.
 */
export function medianRsrpFrom(
  masts: readonly Mast[],
  zones: readonly Zone<number | 'none'>[],
): (lonDeg: number, latDeg: number) => number | null {
  const sites = masts.map(({ lonDeg, latDeg, altM, powerAt1kmDbm, exponent }) => ({
    x: EARTH_RADIUS_M * Math.cos(latDeg * RAD) * Math.cos(lonDeg * RAD),
    y: EARTH_RADIUS_M * Math.cos(latDeg * RAD) * Math.sin(lonDeg * RAD),
    z: EARTH_RADIUS_M * Math.sin(latDeg * RAD),
    heightSquaredM2: altM * altM,
    powerAt1kmDbm,
    // Half of 10 n, because it multiplies the logarithm of a square.
    fall: 5 * exponent,
  }));
  return (lonDeg, latDeg) => {
    const extra = zoneAt(zones, lonDeg, latDeg) ?? 0;
    if (extra === 'none') return null;
    const level = EARTH_RADIUS_M * Math.cos(latDeg * RAD);
    const x = level * Math.cos(lonDeg * RAD);
    const y = level * Math.sin(lonDeg * RAD);
    const z = EARTH_RADIUS_M * Math.sin(latDeg * RAD);
    let best = -Infinity;
    for (const site of sites) {
      const groundSquaredM2 = (site.x - x) ** 2 + (site.y - y) ** 2 + (site.z - z) ** 2;
      const squaredM2 = Math.max(NEAREST_M * NEAREST_M, groundSquaredM2 + site.heightSquaredM2);
      const dbm = site.powerAt1kmDbm - site.fall * Math.log10(squaredM2 / 1e6);
      if (dbm > best) best = dbm;
    }
    const dbm = best + extra;
    if (dbm < WEAKEST_DBM) return null;
    return Math.min(HIGHEST_REPORT_DBM, dbm);
  };
}
