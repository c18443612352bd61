// What a scenario file leaves out. scenario.schema.json tells the same values to readers; a test compares the two.
import { HOUR_MS, MINUTE_MS, SECOND_MS } from '../clock.ts';
import type {
  BatteryPlan,
  BufferPlan,
  GnssPlan,
  LifecyclePlan,
  MqttPlan,
  OutagePlan,
  RadioPlan,
  ReportPlan,
  SensorPlan,
  SensorsPlan,
  Weather,
} from './scenario.ts';

/** 1980-01-06T00:00:00Z, where GPS time starts: the common power-on value of receivers. */
export const GPS_EPOCH_MS = 315_964_800_000;

export const DEFAULT_SEED = '1';
/** 2031-03-03T00:00:00Z, a Monday. */
export const DEFAULT_START_MS = 1_930_262_400_000;
export const DEFAULT_PLACE = 'tarn-isles';
export const DEFAULT_LABELS: readonly string[] = ['{group} {n}'];
export const DEFAULT_SKY = 'open';

export const DEFAULT_WEATHER: Weather = {
  meanTempC: 12,
  dailySwingC: 4,
  humidityPct: 75,
  seaLevelPressurePa: 101_325,
};

export const DEFAULT_ROUTE = {
  speedMps: 5,
  dwellMs: 2 * MINUTE_MS,
  then: 'turn-back',
  headwayMs: 10 * MINUTE_MS,
} as const;

export const DEFAULT_ROAM = { speedMps: 1.2, turnDegPerMin: 30 } as const;

export const DEFAULT_REPORT: ReportPlan = {
  everyMs: MINUTE_MS,
  spreadMs: 10 * SECOND_MS,
  afterReboot: 'starts-again',
  firstSeq: 0,
};

export const DEFAULT_GNSS: GnssPlan = { drmsM: 5, correlationS: 60, withoutFix: 'nothing' };

function sensor(noise: number): SensorPlan {
  return { noise, bias: 0, driftPerDay: 0, walkPerSqrtDay: 0 };
}

export const DEFAULT_SENSORS: SensorsPlan = {
  airTemp: sensor(0.1),
  humidity: sensor(0.5),
  pressure: sensor(10),
  accel: sensor(0.05),
  enclosureLagS: 600,
  shocksPerHour: 2,
};

export const DEFAULT_BATTERY: BatteryPlan = {
  capacityMah: 3000,
  startPct: 90,
  chargeMa: 0,
  chargeFromMs: 0,
  chargeUntilMs: 0,
  sleepMa: 0.05,
  gnssMa: 30,
  transmitMa: 120,
  searchMa: 60,
};

/** Where a file asks for outages without saying how many. */
export const DEFAULT_OUTAGES: OutagePlan = {
  stepMs: MINUTE_MS,
  toBad: { num: 1, den: 100 },
  toGood: { num: 1, den: 5 },
};

export const DEFAULT_RADIO: RadioPlan = {
  image: 'lte-m',
  sim: 'lte-m',
  outages: null,
  lossLooksLike: 'half-open',
  backOffFirstMs: 5 * SECOND_MS,
  backOffLastMs: 2 * MINUTE_MS,
};

export const DEFAULT_LIFECYCLE: LifecyclePlan = {
  from: 'claimed',
  failedWrites: 0,
  claimAfterMs: 2 * MINUTE_MS,
  wrongPins: 0,
  unsetClockMs: GPS_EPOCH_MS,
  clockSurvives: false,
};

export const DEFAULT_BUFFER: BufferPlan = {
  holds: 2000,
  whenFull: 'drop-oldest',
  flush: 'oldest-first',
  batchOf: 20,
  survivesPowerLoss: true,
};

export const DEFAULT_MQTT: MqttPlan = {
  payload: 'plain',
  readingsTopic: 'tarn/{id}/readings',
  statusTopic: 'tarn/{id}/status',
  qos: 1,
  session: 'persistent',
  keepAliveS: 60,
  inFlight: 8,
  status: true,
};

export const DEFAULT_FAULT = {
  on: 'everyone',
  fromMs: 0,
  repeatShare: { num: 1, den: 20 },
  dropHow: 'reset',
  dropEveryMs: 10 * MINUTE_MS,
  spikeShare: { num: 1, den: 100 },
} as const;

/** Longest scenario: a leap year and a bit. */
export const LONGEST_SCENARIO_MS = 400 * 24 * HOUR_MS;
/** 9999-12-31T00:00:00Z: years have four digits in RFC 3339. */
export const LAST_END_MS = 253_402_214_400_000;
/** Most trackers in one scenario. */
export const MOST_TRACKERS = 1_000_000;
