// A scenario with every default filled in. Nothing deeper than resolve.ts sees an optional field.
// Durations are whole ms; times are Unix ms of virtual time.
import type { PlaceMap, Sky } from '../place/place.ts';

export type Qos = 0 | 1 | 2;

/** How a link ends: an MQTT DISCONNECT, a TCP reset, or silence (the broker isn't told). */
export type DropHow = 'clean' | 'reset' | 'half-open';

/** Cellular access technology. */
export type Access = 'lte-m' | 'nb-iot';

/** Share of cases as a ratio of whole numbers. */
export interface Ratio {
  readonly num: number;
  readonly den: number;
}

export type MotionPlan =
  | { readonly kind: 'parked'; readonly lonDeg: number; readonly latDeg: number; readonly altM: number }
  | {
      readonly kind: 'route';
      /** Id of a line of the place. */
      readonly along: string;
      /** Cruising speed; a line's own limit is kept too. */
      readonly speedMps: number;
      /** Pause at each end and at each stop on the line. */
      readonly dwellMs: number;
      readonly then: 'turn-back' | 'start-over' | 'stay';
      /** Trackers of a group start one after another by this much. */
      readonly headwayMs: number;
    }
  | {
      readonly kind: 'roam';
      /** Id of an area of the place. */
      readonly within: string;
      readonly speedMps: number;
      /** How far the course wanders: standard deviation of the turn in one minute. */
      readonly turnDegPerMin: number;
    };

export interface GnssPlan {
  /** Horizontal error in open sky, distance root mean square, metres. */
  readonly drmsM: number;
  /** Correlation time of the error, seconds (first-order Gauss–Markov). */
  readonly correlationS: number;
  /** What a reading says without a fix. */
  readonly withoutFix: 'nothing' | 'last-known';
}

export interface SensorPlan {
  /** Standard deviation of the white noise, in the sensor's unit. */
  readonly noise: number;
  /** Constant error at the start. */
  readonly bias: number;
  /** Linear drift, units a day. */
  readonly driftPerDay: number;
  /** Random walk of the bias: standard deviation after one day. */
  readonly walkPerSqrtDay: number;
}

export interface SensorsPlan {
  readonly airTemp: SensorPlan;
  readonly humidity: SensorPlan;
  readonly pressure: SensorPlan;
  readonly accel: SensorPlan;
  /** Time constant of the enclosure, seconds. */
  readonly enclosureLagS: number;
  /** Mean number of shocks an hour while moving. */
  readonly shocksPerHour: number;
}

export interface BatteryPlan {
  readonly capacityMah: number;
  readonly startPct: number;
  /** Charging current while on charge, mA, and when: by the day's clock, [from, until) ms after midnight; empty = never. */
  readonly chargeMa: number;
  readonly chargeFromMs: number;
  readonly chargeUntilMs: number;
  readonly sleepMa: number;
  readonly gnssMa: number;
  readonly transmitMa: number;
  readonly searchMa: number;
}

/** Gilbert–Elliott outages: chance to go from good to bad, and back, in each step. */
export interface OutagePlan {
  readonly stepMs: number;
  readonly toBad: Ratio;
  readonly toGood: Ratio;
}

export interface RadioPlan {
  /** The image that was written to the tracker. */
  readonly image: Access;
  /** The access technology of the SIM. A wrong image never registers. */
  readonly sim: Access;
  readonly outages: OutagePlan | null;
  /** What the broker sees when coverage is lost. */
  readonly lossLooksLike: DropHow;
  /** Attach back-off: first wait, doubled up to the last. */
  readonly backOffFirstMs: number;
  readonly backOffLastMs: number;
}

export interface LifecyclePlan {
  /** `claimed`: deployed before the scenario starts. `box`: everything from numbers-noted on happens in it. */
  readonly from: 'claimed' | 'box';
  /** Firmware writes that fail before one passes (after a power cycle). */
  readonly failedWrites: number;
  /** How long after registration the owner claims it, and with how many wrong PINs first. */
  readonly claimAfterMs: number;
  readonly wrongPins: number;
  /** Which second of 1970 or 1980 an unset clock starts from, Unix ms. */
  readonly unsetClockMs: number;
  /** Whether the clock keeps time over a power loss. */
  readonly clockSurvives: boolean;
}

export interface BufferPlan {
  /** Most readings held while there is no link. */
  readonly holds: number;
  readonly whenFull: 'drop-oldest' | 'drop-newest';
  readonly flush: 'oldest-first' | 'newest-first';
  /** Most readings in one message. */
  readonly batchOf: number;
  /** Whether the buffer survives a power loss. */
  readonly survivesPowerLoss: boolean;
}

export interface ReportPlan {
  readonly everyMs: number;
  /** Trackers of a group don't all report on the same millisecond: each is offset by its own share of this. */
  readonly spreadMs: number;
  /** Sequence numbers start again at 0 after a reboot, or go on. */
  readonly afterReboot: 'starts-again' | 'goes-on';
  /** The first sequence number. */
  readonly firstSeq: number;
}

export type PayloadKind = 'plain' | 'senml-json' | 'senml-cbor';

export interface MqttPlan {
  readonly payload: PayloadKind;
  /** With {id} and {group}. */
  readonly readingsTopic: string;
  readonly statusTopic: string;
  readonly qos: Qos;
  readonly session: 'persistent' | 'clean';
  readonly keepAliveS: number;
  /** Most unacknowledged messages at a time. */
  readonly inFlight: number;
  /** Send a retained `online` status after connecting, with an `offline` last will. */
  readonly status: boolean;
}

export interface Group {
  readonly name: string;
  readonly count: number;
  /** Label of tracker k is labels[k mod length], with {n} replaced by k + 1. */
  readonly labels: readonly string[];
  readonly motion: MotionPlan;
  /** Sky where the place says nothing. */
  readonly sky: Sky;
  readonly report: ReportPlan;
  readonly gnss: GnssPlan;
  readonly sensors: SensorsPlan;
  readonly battery: BatteryPlan;
  readonly radio: RadioPlan;
  readonly lifecycle: LifecyclePlan;
  readonly buffer: BufferPlan;
  readonly mqtt: MqttPlan;
}

export type SensorName = 'airTemp' | 'humidity' | 'pressure' | 'accel';

/** Something the scenario makes happen to some trackers between two times (until excluded). */
export type Fault = {
  /** Indices of the trackers it strikes. */
  readonly trackers: ReadonlySet<number>;
  readonly fromMs: number;
  readonly untilMs: number;
} & (
  | { readonly kind: 'no-coverage' }
  | { readonly kind: 'sky'; readonly sky: Sky }
  | { readonly kind: 'power-cut' }
  /** The clock jumps by this much at `fromMs`, and stays wrong until `untilMs`, when the network sets it right. */
  | { readonly kind: 'clock-jump'; readonly byMs: number }
  /** The clock loses its setting at `fromMs`, and no source sets it before `untilMs`. */
  | { readonly kind: 'clock-unset' }
  /** A share of messages is sent twice. */
  | { readonly kind: 'repeat-send'; readonly share: Ratio }
  /** The link drops at `fromMs`, and again every `everyMs` until `untilMs`; the tracker reconnects. */
  | { readonly kind: 'link-drop'; readonly how: DropHow; readonly everyMs: number }
  | { readonly kind: 'sensor-stuck'; readonly sensor: SensorName }
  | { readonly kind: 'sensor-silent'; readonly sensor: SensorName }
  /** Single readings of the sensor are off by this much, for a share of readings. */
  | {
      readonly kind: 'sensor-spikes';
      readonly sensor: SensorName;
      readonly by: number;
      readonly share: Ratio;
    }
);

export type FaultKind = Fault['kind'];

export interface Weather {
  readonly meanTempC: number;
  /** Half of the difference between the day's warmest and coldest hour. */
  readonly dailySwingC: number;
  /** Mean relative humidity at the mean temperature. */
  readonly humidityPct: number;
  readonly seaLevelPressurePa: number;
}

export interface Scenario {
  readonly title: string;
  readonly shows: string;
  readonly seed: string;
  readonly startMs: number;
  readonly endMs: number;
  readonly place: PlaceMap;
  readonly weather: Weather;
  readonly groups: readonly Group[];
  readonly faults: readonly Fault[];
}
