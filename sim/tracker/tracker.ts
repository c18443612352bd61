// One tracker's life as a generator of events, in order of true virtual time.
// This is the file to read first: each tick asks the models in the order of the data flow,
// place → motion → radio → GNSS → clock → sensors → battery → reading → buffer → emission.
import { DAY_MS } from '../clock.ts';
import type { Sky } from '../place/place.ts';
import { randomStream, type RandomStream } from '../random.ts';
import type { Reading } from '../reading.ts';
import type { DropHow, Scenario } from '../scenario/scenario.ts';
import { BatteryModel } from './battery.ts';
import { ReadingBuffer } from './buffer.ts';
import { TrackerClock } from './clock-setting.ts';
import type { Discard, Emission, TrackerEvent } from './event.ts';
import { TrackerFaults } from './faults.ts';
import { GnssModel } from './gnss.ts';
import { Lifecycle } from './lifecycle.ts';
import { createMotion, type Motion, type MotionState } from './motion.ts';
import { RadioModel } from './radio.ts';
import type { TrackerSpec } from './roster.ts';
import { SensorsModel } from './sensors.ts';

/** Receiver on-time a reading costs with and without a fix, and transmitter on-time a message costs (common practice). */
const GNSS_ON_WITH_FIX_MS = 3000;
const GNSS_ON_WITHOUT_FIX_MS = 30_000;
const TRANSMIT_MS = 1500;

/** Everything the tracker does from the scenario's start to its end. Same arguments, same events. */
export function trackerEvents(scenario: Scenario, spec: TrackerSpec): Generator<TrackerEvent, void> {
  return new TrackerLife(scenario, spec).run();
}

class TrackerLife {
  readonly #scenario: Scenario;
  readonly #spec: TrackerSpec;
  readonly #faults: TrackerFaults;
  readonly #motion: Motion;
  readonly #radio: RadioModel;
  readonly #gnss: GnssModel;
  readonly #sensors: SensorsModel;
  readonly #battery: BatteryModel;
  readonly #lifecycle: Lifecycle;
  readonly #clock: TrackerClock;
  readonly #buffer: ReadingBuffer;
  readonly #repeatRandom: RandomStream;
  /** Events of the tick that is being worked on. */
  #out: TrackerEvent[] = [];

  #boot = 0;
  #seq: number;
  #emissions = 0;
  #connected = false;
  /** Power is there: the battery is in and not flat. */
  #pulled = false;
  #on = false;
  #airTempC: number;
  #atLonDeg = Number.NaN;
  #atLatDeg = Number.NaN;
  #medianRsrpDbm: number | null = null;
  #sky: Sky;

  constructor(scenario: Scenario, spec: TrackerSpec) {
    const { group, identity } = spec;
    const stream = (name: string) => randomStream(scenario.seed, 'tracker', identity.imei, name);
    this.#scenario = scenario;
    this.#spec = spec;
    this.#faults = new TrackerFaults(scenario.faults, spec.index);
    this.#motion = createMotion(
      group.motion,
      scenario.place,
      scenario.startMs,
      spec.member,
      stream('motion'),
    );
    this.#radio = new RadioModel(group.radio, scenario.startMs, stream('shadowing'), stream('outages'));
    this.#gnss = new GnssModel(group.gnss, stream('gnss'));
    this.#sensors = new SensorsModel(group.sensors, scenario.weather, scenario.startMs, (name) =>
      stream(`sensor ${name}`),
    );
    this.#battery = new BatteryModel(group.battery, scenario.startMs);
    this.#lifecycle = new Lifecycle(group.lifecycle, identity, scenario.startMs, stream('lifecycle'));
    this.#clock = new TrackerClock(group.lifecycle, this.#faults);
    this.#buffer = new ReadingBuffer(group.buffer);
    this.#repeatRandom = stream('repeats');
    this.#seq = group.report.firstSeq;
    this.#airTempC = scenario.weather.meanTempC;
    this.#sky = group.sky;
  }

  *run(): Generator<TrackerEvent, void> {
    const { startMs, endMs } = this.#scenario;
    const everyMs = this.#spec.group.report.everyMs;
    let lastMs = startMs;
    for (let atMs = startMs + this.#spec.offsetMs; atMs < endMs; atMs += everyMs) {
      this.#happenings(atMs);
      this.#tick(atMs, atMs - lastMs);
      for (const event of this.#takeOut()) yield event;
      lastMs = atMs;
    }
    this.#happenings(endMs - 1);
    const left = this.#buffer.loseAll();
    if (left.length > 0) this.#discard(endMs, 'still-in-buffer', left);
    if (this.#connected) this.#disconnect(endMs, 'clean');
    yield* this.#takeOut();
  }

  #takeOut(): TrackerEvent[] {
    const out = this.#out;
    this.#out = [];
    return out;
  }

  #happenings(untilMs: number): void {
    for (let next = this.#faults.take(untilMs); next; next = this.#faults.take(untilMs)) {
      if (next.what.kind === 'link-drop') {
        if (!this.#connected) continue;
        this.#disconnect(next.atMs, next.what.how);
      } else {
        this.#pulled = next.what.kind === 'power-lost';
        if (this.#pulled) this.#powerOff(next.atMs);
      }
    }
  }

  #powerOff(atMs: number): void {
    if (!this.#on) return;
    this.#on = false;
    this.#radio.powerOff(atMs);
    this.#gnss.powerOff(atMs);
    this.#out.push(...this.#lifecycle.powerLost(atMs));
    // Nobody says goodbye when the power goes: the broker hears nothing more.
    if (this.#connected) this.#disconnect(atMs, 'half-open');
    if (!this.#spec.group.buffer.survivesPowerLoss) {
      const lost = this.#buffer.loseAll();
      if (lost.length > 0) this.#discard(atMs, 'power-lost', lost);
    }
  }

  #powerOn(atMs: number): void {
    this.#on = true;
    if (this.#boot > 0) this.#out.push(...this.#lifecycle.powerBack(atMs));
    this.#boot += 1;
    if (this.#spec.group.report.afterReboot === 'starts-again') this.#seq = this.#spec.group.report.firstSeq;
    this.#clock.powerOn(atMs);
    this.#radio.powerOn(atMs);
    this.#gnss.powerOn(atMs);
  }

  #tick(atMs: number, sinceMs: number): void {
    const truth = this.#motion.at(atMs);
    if (!this.#on) this.#battery.rest(sinceMs, atMs % DAY_MS, this.#airTempC);
    if (this.#pulled || this.#battery.flat) {
      this.#powerOff(atMs);
      return;
    }
    if (!this.#on && this.#lifecycle.powered) this.#powerOn(atMs);
    if (!this.#on) {
      this.#out.push(...this.#lifecycle.advance(atMs, false));
      return;
    }
    this.#work(atMs, sinceMs, truth);
    if (this.#battery.flat) this.#powerOff(atMs);
  }

  #work(atMs: number, sinceMs: number, truth: MotionState): void {
    const { group } = this.#spec;
    this.#lookAround(truth);
    const covered = this.#faults.hasCoverage(atMs);
    const radio = this.#radio.step(atMs, covered ? this.#medianRsrpDbm : null);
    const sky = this.#faults.sky(atMs) ?? this.#sky;
    const position = this.#gnss.sample(atMs, truth, sky);
    this.#clock.listen(atMs, radio.registered, position.timeKnown);
    const sensors = this.#sensors.sample(atMs, truth, this.#faults.sensors(atMs));
    if (sensors.airTempCE2 !== null) this.#airTempC = sensors.airTempCE2 / 100;
    const sends = radio.registered && this.#lifecycle.streaming;
    this.#battery.spend(
      sinceMs,
      {
        gnssMs: Math.min(sinceMs, position.fix === 'none' ? GNSS_ON_WITHOUT_FIX_MS : GNSS_ON_WITH_FIX_MS),
        transmitMs: Math.min(sinceMs, sends ? TRANSMIT_MS : 0),
        searchMs: Math.min(sinceMs, radio.searchMs),
      },
      this.#airTempC,
      atMs % DAY_MS,
    );
    const stages = this.#lifecycle.advance(atMs, radio.registered);
    if (stages.length > 0) this.#out.push(...stages);
    if (!radio.registered && this.#connected) {
      this.#disconnect(atMs, group.radio.lossLooksLike);
    }
    if (!this.#lifecycle.claimed) return;

    const reading: Reading = {
      id: this.#spec.identity.imei,
      label: this.#spec.label,
      boot: this.#boot,
      seq: this.#seq,
      atMs: this.#clock.showsMs(atMs),
      clock: this.#clock.source,
      fix: position.fix,
      latDegE7: position.latDegE7,
      lonDegE7: position.lonDegE7,
      altME1: position.altME1,
      speedMpsE2: position.speedMpsE2,
      courseDegE1: position.courseDegE1,
      satellites: position.satellites,
      hdopE1: position.hdopE1,
      accuracyME1: position.accuracyME1,
      airTempCE2: sensors.airTempCE2,
      humidityPctE1: sensors.humidityPctE1,
      pressurePa: sensors.pressurePa,
      accelMps2E2: sensors.accelMps2E2,
      batteryVE3: this.#battery.millivolts,
      batteryPct: this.#battery.pct,
      rsrpDbm: radio.rsrpDbm,
      rsrqDbE1: radio.rsrqDbE1,
    };
    this.#seq += 1;
    const dropped = this.#buffer.push(reading);
    if (dropped) this.#discard(atMs, 'buffer-full', [dropped]);
    if (radio.registered && this.#lifecycle.streaming) this.#flush(atMs);
  }

  /** What the place says of this spot. Asked again only after a move: half of a fleet stands still. */
  #lookAround({ lonDeg, latDeg }: MotionState): void {
    if (lonDeg === this.#atLonDeg && latDeg === this.#atLatDeg) return;
    this.#atLonDeg = lonDeg;
    this.#atLatDeg = latDeg;
    const { place } = this.#scenario;
    this.#medianRsrpDbm = place.medianRsrpDbm(lonDeg, latDeg);
    this.#sky = place.skyAt(lonDeg, latDeg) ?? this.#spec.group.sky;
  }

  #flush(atMs: number): void {
    if (!this.#connected) {
      this.#connected = true;
      this.#out.push({ kind: 'connect', atMs });
      if (this.#spec.group.mqtt.status) this.#emit(atMs, 'status', [], false);
    }
    for (const batch of this.#buffer.takeBatches()) {
      this.#emit(atMs, 'readings', batch, false);
      if (this.#faults.repeats(atMs, this.#repeatRandom)) {
        this.#emit(atMs, 'readings', batch, true);
      }
    }
  }

  #emit(atMs: number, purpose: Emission['purpose'], readings: readonly Reading[], repeat: boolean): void {
    const { group, readingsTopic, statusTopic } = this.#spec;
    this.#out.push({
      kind: 'emission',
      atMs,
      n: this.#emissions,
      purpose,
      topic: purpose === 'readings' ? readingsTopic : statusTopic,
      qos: group.mqtt.qos,
      retain: purpose === 'status',
      readings,
      repeat,
      boot: this.#boot,
    });
    this.#emissions += 1;
  }

  #disconnect(atMs: number, how: DropHow): void {
    this.#connected = false;
    this.#out.push({ kind: 'disconnect', atMs, how });
  }

  #discard(atMs: number, why: Discard['why'], readings: readonly Reading[]): void {
    this.#out.push({ kind: 'discard', atMs, why, readings });
  }
}
