// The outside air where the tracker is: temperature, dew point and pressure.
// Standard deviations and correlation times are common practice for a maritime climate, made to be tuned.
import { DAY_MS, HOUR_MS } from '../clock.ts';
import type { RandomStream } from '../random.ts';
import type { Weather } from '../scenario/scenario.ts';
import {
  dewPointC,
  geopotentialHeightM,
  LAPSE_K_PER_M,
  saturationVapourHpa,
  SEA_LEVEL_PRESSURE_PA,
  standardPressurePa,
} from './atmosphere.ts';
import { GaussMarkov } from './gauss-markov.ts';
import { OnGrid } from './on-grid.ts';
import type { MotionState } from './motion-state.ts';

/** The day is warmest at 15:00 local mean solar time (common practice). */
const WARMEST_MS = 15 * HOUR_MS;
const MS_PER_DEG = DAY_MS / 360;
const TEMP_SIGMA_C = 1.5;
const TEMP_CORRELATION_S = 6 * 3600;
const DEW_SIGMA_C = 1;
const DEW_CORRELATION_S = 24 * 3600;
/** Fall of the dew point with height in well-mixed air. */
const DEW_LAPSE_K_PER_M = 0.0018;
const PRESSURE_SIGMA_PA = 500;
const PRESSURE_CORRELATION_S = 48 * 3600;

/** Daily course of the temperature around its mean, degrees, at a longitude: `swingC` at the warmest. */
export function dailyCourseC(atMs: number, lonDeg: number, swingC: number): number {
  return swingC * Math.cos(((atMs + lonDeg * MS_PER_DEG - WARMEST_MS) / DAY_MS) * 2 * Math.PI);
}

function slow(sigma: number, correlationS: number, random: RandomStream): OnGrid {
  return new OnGrid(new GaussMarkov(sigma, correlationS, random), (correlationS * 1000) / 60);
}

/** The air around one tracker; read the properties after `moveTo`. */
export class LocalAir {
  readonly #weather: Weather;
  readonly #meanDewC: number | null;
  readonly #temp: OnGrid;
  readonly #dew: OnGrid;
  readonly #pressure: OnGrid;
  // A parked tracker asks for the same height again and again.
  #altM = 0;
  #pressureRatio = 1;

  tempC = 0;
  /** Vapour pressure, hPa: never more than saturates the air, and 0 in perfectly dry air. */
  vapourHpa = 0;
  pressurePa = 0;

  constructor(weather: Weather, streamFor: (name: string) => RandomStream) {
    this.#weather = weather;
    this.#meanDewC = dewPointC(weather.meanTempC, weather.humidityPct);
    this.#temp = slow(TEMP_SIGMA_C, TEMP_CORRELATION_S, streamFor('weather-temp'));
    this.#dew = slow(DEW_SIGMA_C, DEW_CORRELATION_S, streamFor('weather-dew'));
    this.#pressure = slow(PRESSURE_SIGMA_PA, PRESSURE_CORRELATION_S, streamFor('weather-pressure'));
  }

  moveTo(atMs: number, truth: MotionState): void {
    const weather = this.#weather;
    this.tempC =
      weather.meanTempC +
      dailyCourseC(atMs, truth.lonDeg, weather.dailySwingC) +
      this.#temp.at(atMs) -
      LAPSE_K_PER_M * truth.altM;
    const dewDeviationC = this.#dew.at(atMs);
    if (this.#meanDewC !== null) {
      const dewC = this.#meanDewC + dewDeviationC - DEW_LAPSE_K_PER_M * truth.altM;
      this.vapourHpa = saturationVapourHpa(Math.min(dewC, this.tempC));
    }
    if (truth.altM !== this.#altM) {
      this.#altM = truth.altM;
      this.#pressureRatio = standardPressurePa(geopotentialHeightM(truth.altM)) / SEA_LEVEL_PRESSURE_PA;
    }
    this.pressurePa = (weather.seaLevelPressurePa + this.#pressure.at(atMs)) * this.#pressureRatio;
  }
}
