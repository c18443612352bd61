// What each kind of sky does to the receiver. All of it common practice, made to be tuned.
import type { Sky } from '../place/place.ts';

/** Open-sky seconds of acquisition gained in one second. Nothing is acquired indoors or in a tunnel. */
export const ACQUISITION_RATE: Readonly<Record<Sky, number>> = {
  open: 1,
  street: 0.5,
  window: 1 / 6,
  indoor: 0,
  tunnel: 0,
};

/** Range error against open sky: reflections make it worse. */
export const MULTIPATH: Readonly<Record<Sky, number>> = {
  open: 1,
  street: 2,
  window: 4,
  indoor: 4,
  tunnel: 4,
};

/** Mean count of satellites used, and its standard deviation. */
const MEAN_SATELLITES: Readonly<Record<Sky, number>> = {
  open: 11,
  street: 7,
  window: 5,
  indoor: 0,
  tunnel: 0,
};
const SATELLITES_SIGMA = 1;
const LEAST_FOR_A_FIX = 3;
const MOST_SATELLITES = 16;

/** Satellites used by a fix under this sky; `deviate` is a standard normal number. */
export function satellitesUsed(sky: Sky, deviate: number): number {
  const count = Math.round(MEAN_SATELLITES[sky] + SATELLITES_SIGMA * deviate);
  return count < LEAST_FOR_A_FIX ? LEAST_FOR_A_FIX : count > MOST_SATELLITES ? MOST_SATELLITES : count;
}

/** Horizontal dilution of precision with this many satellites: 3.4 with three, 1.0 with eleven. */
export function hdopOf(satellites: number): number {
  return 0.7 + 2.7 / (satellites - 2);
}
