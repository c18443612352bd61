// Timers of the power saving mode (PSM) and of extended discontinuous reception (eDRX), as on the air:
// 3GPP TS 24.008 Tables 10.5.163 (T3324), 10.5.163a (T3412 extended) and 10.5.5.32 (eDRX).
// Bits 8-6 of a timer are its unit, bits 5-1 its value. The two timers have different unit tables.
import { BadInput } from '../errors.ts';
import type { Access } from '../scenario/scenario.ts';

/** Seconds per unit, by unit bits; null = the timer isn't running. 011-110 of T3324 are read as one minute. */
const T3324_UNIT_S: readonly (number | null)[] = [2, 60, 360, 60, 60, 60, 60, null];
const T3412_EXT_UNIT_S: readonly (number | null)[] = [600, 3600, 36_000, 2, 30, 60, 1_152_000, null];

/** Active time after an update, seconds; null = deactivated. `octet` is 0 … 255. */
export function decodeT3324(octet: number): number | null {
  return decode(T3324_UNIT_S, octet);
}

/** Time between updates, seconds; null = as if the element were absent. `octet` is 0 … 255. */
export function decodeT3412Ext(octet: number): number | null {
  return decode(T3412_EXT_UNIT_S, octet);
}

/** The octet of the shortest active time that isn't below `seconds`. Throws BadInput above 186 minutes. */
export function encodeT3324(seconds: number): number {
  return encode(T3324_UNIT_S, seconds);
}

/** The octet of the shortest time between updates that isn't below `seconds`. Throws BadInput above 9920 hours. */
export function encodeT3412Ext(seconds: number): number {
  return encode(T3412_EXT_UNIT_S, seconds);
}

function decode(unitS: readonly (number | null)[], octet: number): number | null {
  const unit = unitS[(octet >> 5) & 7] ?? null;
  return unit === null ? null : unit * (octet & 31);
}

function encode(unitS: readonly (number | null)[], seconds: number): number {
  let best: number | undefined;
  let bestS = Number.POSITIVE_INFINITY;
  for (const [bits, unit] of unitS.entries()) {
    if (unit === null) continue;
    const value = Math.ceil(seconds / unit);
    // A duration can have several encodings; the unit with the lowest bits is taken.
    if (seconds >= 0 && value <= 31 && value * unit < bestS) {
      best = (bits << 5) | value;
      bestS = value * unit;
    }
  }
  if (best === undefined) {
    const longestS = Math.max(...unitS.map((unit) => 31 * (unit ?? 0)));
    throw new BadInput(
      `expected a timer of 0 to ${longestS} seconds, found ${seconds}. Mend: choose a time in this range.`,
    );
  }
  return best;
}

const EDRX_CYCLE_S: readonly number[] = [
  5.12, 10.24, 20.48, 40.96, 61.44, 81.92, 102.4, 122.88, 143.36, 163.84, 327.68, 655.36, 1310.72, 2621.44,
  5242.88, 10_485.76,
];

/**
 * eDRX cycle in S1 mode, seconds; null = eDRX isn't used. `bits` is 0 … 15.
 * Values that an access technology doesn't know are read as the standard says (releases differ).
 */
export function edrxCycleS(bits: number, access: Access): number | null {
  let read = bits & 15;
  if (access === 'lte-m') {
    if (read > 13) read = 13;
  } else if (read < 2) {
    return null;
  } else if (read === 4 || (read >= 6 && read <= 8)) {
    read = 2;
  }
  return EDRX_CYCLE_S[read] ?? null;
}

/** Paging time window, seconds: 1.28 … 20.48 for LTE-M, 2.56 … 40.96 for NB-IoT. `bits` is 0 … 15. */
export function pagingWindowS(bits: number, access: Access): number {
  return ((bits & 15) + 1) * (access === 'lte-m' ? 1.28 : 2.56);
}
