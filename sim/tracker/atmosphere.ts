// The standard atmosphere and moist air.
// Pressure: ICAO Doc 7488 / ISO 2533. Vapour pressure over water: WMO-No. 8, Annex 4.B, without the
// pressure enhancement factor. Below 0 degrees humidity sensors still report over water, not over ice.

export const SEA_LEVEL_PRESSURE_PA = 101_325;
/** Fall of the air temperature with height, K/m. */
export const LAPSE_K_PER_M = 0.0065;

const SEA_LEVEL_TEMP_K = 288.15;
const TROPOPAUSE_TEMP_K = 216.65;
/** g0 M / R: standard gravity, molar mass of dry air and gas constant of the standard. */
const GRAVITY_K_PER_M = (9.80665 * 0.0289644) / 8.31432;
const PRESSURE_EXPONENT = GRAVITY_K_PER_M / LAPSE_K_PER_M;
const TROPOPAUSE_M = 11_000;
const TROPOPAUSE_PRESSURE_PA = 22_632.06;
const EARTH_RADIUS_M = 6_356_766;

/** Geopotential height, m, of a geometric height above the sea, m. */
export function geopotentialHeightM(altM: number): number {
  return (EARTH_RADIUS_M * altM) / (EARTH_RADIUS_M + altM);
}

/** Pressure of the standard atmosphere, Pa, at a geopotential height up to 20 km. */
export function standardPressurePa(heightM: number): number {
  if (heightM > TROPOPAUSE_M) {
    return (
      TROPOPAUSE_PRESSURE_PA * Math.exp((GRAVITY_K_PER_M * (TROPOPAUSE_M - heightM)) / TROPOPAUSE_TEMP_K)
    );
  }
  // exp and log take half the time of **, and a moving tracker asks at every reading.
  const tempRatio = 1 - (LAPSE_K_PER_M * heightM) / SEA_LEVEL_TEMP_K;
  return SEA_LEVEL_PRESSURE_PA * Math.exp(PRESSURE_EXPONENT * Math.log(tempRatio));
}

const MAGNUS_HPA = 6.112;
const MAGNUS_FACTOR = 17.62;
const MAGNUS_C = 243.12;

/** Saturation vapour pressure over water, hPa. */
export function saturationVapourHpa(tempC: number): number {
  return MAGNUS_HPA * Math.exp((MAGNUS_FACTOR * tempC) / (MAGNUS_C + tempC));
}

/** Dew point of air, degrees Celsius; null for perfectly dry air, which has none. */
export function dewPointC(tempC: number, humidityPct: number): number | null {
  if (humidityPct <= 0) return null;
  const x = Math.log(humidityPct / 100) + (MAGNUS_FACTOR * tempC) / (MAGNUS_C + tempC);
  return (MAGNUS_C * x) / (MAGNUS_FACTOR - x);
}

/** Relative humidity over water, %, of air at `tempC` that holds `vapourHpa`. More than 100 means fog. */
export function relativeHumidityPct(tempC: number, vapourHpa: number): number {
  return (100 * vapourHpa) / saturationVapourHpa(tempC);
}
