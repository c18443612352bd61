// What the sensors say: the air inside the enclosure, the pressure and the knocks, each with its sensor's errors.
import type { RandomStream } from '../random.ts';
import type { Reading } from '../reading.ts';
import type { SensorName, SensorPlan, SensorsPlan, Weather } from '../scenario/scenario.ts';
import { Acceleration } from './acceleration.ts';
import { relativeHumidityPct } from './atmosphere.ts';
import { FirstOrderLag } from './first-order-lag.ts';
import { LocalAir } from './local-air.ts';
import { type Quantiser, quantiserOf } from './quantise.ts';
import { ErringSensor, type SensorFaults } from './sensor-errors.ts';
import type { MotionState } from './motion-state.ts';

export { NO_SENSOR_FAULTS, type SensorFaults } from './sensor-errors.ts';

/** The sensors' part of a reading. */
export type SensorsSample = Pick<Reading, 'airTempCE2' | 'humidityPctE1' | 'pressurePa' | 'accelMps2E2'>;

const AIR_TEMP = quantiserOf('airTempCE2');
const HUMIDITY = quantiserOf('humidityPctE1');
const PRESSURE = quantiserOf('pressurePa');
const ACCEL = quantiserOf('accelMps2E2');

/** One tracker's sensors. Times never go back from one call to the next. */
export class SensorsModel {
  readonly #air: LocalAir;
  readonly #enclosure: FirstOrderLag;
  readonly #acceleration: Acceleration;
  readonly #airTemp: ErringSensor;
  readonly #humidity: ErringSensor;
  readonly #pressure: ErringSensor;
  readonly #accel: ErringSensor;

  /** `streamFor` gives this tracker's stream of a name; each sensor and each kind of weather has its own. */
  constructor(
    plan: SensorsPlan,
    weather: Weather,
    startMs: number,
    streamFor: (name: string) => RandomStream,
  ) {
    const sensor = (name: SensorName, of: SensorPlan, quantiser: Quantiser): ErringSensor =>
      new ErringSensor(name, of, startMs, streamFor(name), quantiser);
    this.#air = new LocalAir(weather, streamFor);
    this.#enclosure = new FirstOrderLag(plan.enclosureLagS);
    this.#acceleration = new Acceleration(plan.shocksPerHour, startMs, streamFor);
    this.#airTemp = sensor('airTemp', plan.airTemp, AIR_TEMP);
    this.#humidity = sensor('humidity', plan.humidity, HUMIDITY);
    this.#pressure = sensor('pressure', plan.pressure, PRESSURE);
    this.#accel = sensor('accel', plan.accel, ACCEL);
  }

  /** What the sensors say at a moment, under the faults of that moment. */
  sample(atMs: number, truth: MotionState, faults: SensorFaults): SensorsSample {
    const air = this.#air;
    air.moveTo(atMs, truth);
    const insideC = this.#enclosure.at(atMs, air.tempC);
    // The enclosure breathes: the vapour inside is the air's, at the temperature inside.
    const humidityPct = Math.min(relativeHumidityPct(insideC, air.vapourHpa), 100);
    return {
      airTempCE2: this.#airTemp.measure(insideC, atMs, faults),
      humidityPctE1: this.#humidity.measure(humidityPct, atMs, faults),
      pressurePa: this.#pressure.measure(air.pressurePa, atMs, faults),
      accelMps2E2: this.#accel.measure(this.#acceleration.peakMps2(atMs, truth), atMs, faults),
    };
  }
}
