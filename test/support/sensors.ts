// Sensors for tests: plans, and two models that differ in one thing alone.
import { randomStream } from '../../sim/random.ts';
import type { SensorPlan, SensorsPlan, Weather } from '../../sim/scenario/scenario.ts';
import type { MotionState } from '../../sim/tracker/motion-state.ts';
import { SensorsModel } from '../../sim/tracker/sensors.ts';

export const PERFECT: SensorPlan = { noise: 0, bias: 0, driftPerDay: 0, walkPerSqrtDay: 0 };

export const PERFECT_PLAN: SensorsPlan = {
  airTemp: PERFECT,
  humidity: PERFECT,
  pressure: PERFECT,
  accel: PERFECT,
  enclosureLagS: 0,
  shocksPerHour: 0,
};

export const MILD: Weather = {
  meanTempC: 12,
  dailySwingC: 4,
  humidityPct: 75,
  seaLevelPressurePa: 101_300,
};

export const PARKED: MotionState = {
  lonDeg: 0,
  latDeg: -38.4,
  altM: 0,
  speedMps: 0,
  courseDeg: 0,
  moving: false,
};

export const RIDING: MotionState = { ...PARKED, speedMps: 5, moving: true };

/** Midnight UTC. */
export const START_MS = 1_929_916_800_000;

export function sensors(
  plan: Partial<SensorsPlan> = {},
  seed = 'sensors',
  weather: Weather = MILD,
): SensorsModel {
  return new SensorsModel({ ...PERFECT_PLAN, ...plan }, weather, START_MS, (name) =>
    randomStream(seed, name),
  );
}
