// Made from scenario.schema.json by `npm run types`; don't edit.

/**
 * How the trackers of the group move.
 */
export type Motion = Parked | Route | Roam;
/**
 * Something that happens to some trackers between two times.
 */
export type Fault = PlainFault | SkyFault | ClockJump | RepeatSend | LinkDrop | SensorFault | SensorSpikes;
/**
 * everyone, a group, one tracker of a group counted from 1 (carts#3), or a list of these
 */
export type Selector = string | string[];
/**
 * How much sky the antenna sees.
 */
export type Sky = 'open' | 'street' | 'window' | 'indoor' | 'tunnel';
/**
 * How a link ends: an MQTT DISCONNECT, a TCP reset, or silence (the broker isn't told).
 */
export type DropHow = 'clean' | 'reset' | 'half-open';
/**
 * A sensor of the tracker.
 */
export type Sensor = 'airTemp' | 'humidity' | 'pressure' | 'accel';

/**
 * A scenario file: which trackers there are, where, for how long, and what happens to them. Every key has its unit in its description; a key left out takes the default that stands beside it.
 */
export interface RawScenario {
  /**
   * Says what this file is. Comes first.
   */
  wayproof: 'scenario/1';
  /**
   * One line.
   */
  title: string;
  /**
   * What the scenario shows, in its own words.
   */
  shows?: string;
  /**
   * All chance comes from this. The whole number 7 and the text "7" are the same seed.
   */
  seed?: string | number;
  /**
   * Virtual time of the start; from 1980-01-06T00:00:00Z on.
   */
  starts?: string;
  /**
   * Length in virtual time; longer than 0.
   */
  lasts: string;
  /**
   * A place of ours (tarn-isles, halfday-shoal, zero-reef), or a .geojson file, relative to this file.
   */
  place?: string;
  weather?: Weather;
  /**
   * Groups of trackers that are alike.
   */
  fleet: Group[];
  /**
   * What is made to happen to some trackers between two times.
   */
  faults?: Fault[];
}
/**
 * Weather of the place.
 */
export interface Weather {
  /**
   * Mean air temperature, degrees Celsius.
   */
  meanTempC?: number;
  /**
   * Half of the difference between the day's warmest and coldest hour, kelvin.
   */
  dailySwingC?: number;
  /**
   * Mean relative humidity at the mean temperature, per cent.
   */
  humidityPct?: number;
  /**
   * Air pressure at sea level, pascals.
   */
  seaLevelPressurePa?: number;
}
/**
 * Trackers that are alike.
 */
export interface Group {
  /**
   * Name of the group; no two are the same.
   */
  name: string;
  /**
   * Number of trackers.
   */
  count: number;
  /**
   * Texts on the crates, taken in turn. {group} becomes the name of the group, {n} the tracker's number in it, from 1.
   */
  labels?: string[];
  motion: Motion;
  /**
   * How much sky the antenna sees where the place says nothing.
   */
  sky?: 'open' | 'street' | 'window' | 'indoor' | 'tunnel';
  report?: Report;
  gnss?: Gnss;
  sensors?: Sensors;
  battery?: Battery;
  radio?: Radio;
  lifecycle?: Lifecycle;
  buffer?: Buffer;
  mqtt?: Mqtt;
}
/**
 * Stands still.
 */
export interface Parked {
  kind: 'parked';
  /**
   * Id of a point of the place, or [longitude, latitude, height]: degrees WGS 84, metres above the sea (0 where left out).
   */
  at: string | number[];
}
/**
 * Follows a line of the place.
 */
export interface Route {
  kind: 'route';
  /**
   * Id of a line of the place.
   */
  along: string;
  /**
   * Cruising speed, metres a second; a line's own limit is kept too.
   */
  speedMps?: number;
  /**
   * Pause at each end and at each stop on the line.
   */
  dwell?: string;
  /**
   * What happens at the end of the line.
   */
  then?: 'turn-back' | 'start-over' | 'stay';
  /**
   * Trackers of the group start one after another by this much.
   */
  headway?: string;
}
/**
 * Wanders about an area of the place.
 */
export interface Roam {
  kind: 'roam';
  /**
   * Id of an area of the place.
   */
  within: string;
  /**
   * Speed, metres a second.
   */
  speedMps?: number;
  /**
   * How far the course wanders: standard deviation of the turn in one minute, degrees.
   */
  turnDegPerMin?: number;
}
/**
 * When readings are made, and how they are numbered.
 */
export interface Report {
  /**
   * Time from one reading to the next; longer than 0.
   */
  every?: string;
  /**
   * Each tracker is offset by its own share of this, so that a group doesn't report on one millisecond. No longer than `every`, which is also its default where `every` is shorter than 10s.
   */
  spread?: string;
  /**
   * Whether sequence numbers start again at 0 after a reboot.
   */
  afterReboot?: 'starts-again' | 'goes-on';
  /**
   * The first sequence number.
   */
  firstSeq?: number;
}
/**
 * The satellite receiver.
 */
export interface Gnss {
  /**
   * Horizontal error in open sky: distance root mean square, metres.
   */
  drmsM?: number;
  /**
   * Correlation time of the error (first-order Gauss-Markov); longer than 0.
   */
  correlation?: string;
  /**
   * What a reading says of the position without a fix.
   */
  withoutFix?: 'nothing' | 'last-known';
}
/**
 * The sensors. Noise left out is 0.1 degrees Celsius, 0.5 per cent, 10 pascals, 0.05 metres a second squared.
 */
export interface Sensors {
  airTemp?: SensorErrors;
  humidity?: SensorErrors;
  pressure?: SensorErrors;
  accel?: SensorErrors;
  /**
   * Time constant of the enclosure.
   */
  enclosureLag?: string;
  /**
   * Mean number of shocks an hour while moving.
   */
  shocksPerHour?: number;
}
/**
 * Errors of one sensor, in its unit: degrees Celsius, per cent, pascals, metres a second squared.
 */
export interface SensorErrors {
  /**
   * Standard deviation of the white noise.
   */
  noise?: number;
  /**
   * Constant error at the start.
   */
  bias?: number;
  /**
   * Linear drift, units a day.
   */
  driftPerDay?: number;
  /**
   * Random walk of the bias: standard deviation after one day.
   */
  walkPerSqrtDay?: number;
}
/**
 * The battery and what draws on it.
 */
export interface Battery {
  /**
   * Capacity, milliampere hours.
   */
  capacityMah?: number;
  /**
   * Charge at the start, per cent.
   */
  startPct?: number;
  /**
   * Current while on charge, milliamperes.
   */
  chargeMa?: number;
  /**
   * On charge from here, after midnight UTC, every day.
   */
  chargeFrom?: string;
  /**
   * On charge until here, after midnight UTC; the same as chargeFrom = never.
   */
  chargeUntil?: string;
  /**
   * Current asleep, milliamperes.
   */
  sleepMa?: number;
  /**
   * Current with the satellite receiver on, milliamperes.
   */
  gnssMa?: number;
  /**
   * Current while sending, milliamperes.
   */
  transmitMa?: number;
  /**
   * Current while looking for a network, milliamperes.
   */
  searchMa?: number;
}
/**
 * The cellular modem.
 */
export interface Radio {
  /**
   * Access technology of the image that was written to the tracker.
   */
  image?: 'lte-m' | 'nb-iot';
  /**
   * Access technology of the SIM. Where it isn't the image's, the tracker never registers.
   */
  sim?: 'lte-m' | 'nb-iot';
  outages?: Outages;
  /**
   * What the broker sees when coverage is lost.
   */
  lossLooksLike?: 'clean' | 'reset' | 'half-open';
  /**
   * First wait after a failed attach, doubled each time; longer than 0.
   */
  backOffFirst?: string;
  /**
   * Longest wait after a failed attach.
   */
  backOffLast?: string;
}
/**
 * Outages that come and go by chance (Gilbert-Elliott). Left out = none.
 */
export interface Outages {
  /**
   * The link turns bad or good in steps of this; longer than 0.
   */
  step?: string;
  /**
   * Chance in each step to turn from good to bad.
   */
  toBad?: string;
  /**
   * Chance in each step to turn from bad to good.
   */
  toGood?: string;
}
/**
 * From the box to the stream.
 */
export interface Lifecycle {
  /**
   * claimed: deployed before the scenario starts. box: everything from the noting of the numbers on happens in it.
   */
  from?: 'claimed' | 'box';
  /**
   * Firmware writes that fail before one passes after a power cycle. Only from the box.
   */
  failedWrites?: number;
  /**
   * How long after registration the owner claims it. Only from the box.
   */
  claimAfter?: string;
  /**
   * Wrong PINs that are tried first. Only from the box.
   */
  wrongPins?: number;
  /**
   * Time at which an unset clock starts.
   */
  unsetClock?: string;
  /**
   * Whether the clock keeps time over a power loss.
   */
  clockSurvives?: boolean;
}
/**
 * Readings held while there is no link.
 */
export interface Buffer {
  /**
   * Most readings held.
   */
  holds?: number;
  /**
   * Which reading goes when one too many comes.
   */
  whenFull?: 'drop-oldest' | 'drop-newest';
  /**
   * Order in which held readings are sent.
   */
  flush?: 'oldest-first' | 'newest-first';
  /**
   * Most readings in one message.
   */
  batchOf?: number;
  /**
   * Whether held readings survive a power loss.
   */
  survivesPowerLoss?: boolean;
}
/**
 * How readings are published.
 */
export interface Mqtt {
  /**
   * JSON of our own, or SenML (RFC 8428) as JSON or CBOR.
   */
  payload?: 'plain' | 'senml-json' | 'senml-cbor';
  /**
   * Topic of readings. {id} becomes the tracker id, {group} the name of the group.
   */
  readingsTopic?: string;
  /**
   * Topic of the status. {id} becomes the tracker id, {group} the name of the group.
   */
  statusTopic?: string;
  /**
   * MQTT quality of service.
   */
  qos?: 0 | 1 | 2;
  /**
   * Whether the broker keeps the session while the tracker is away.
   */
  session?: 'persistent' | 'clean';
  /**
   * MQTT keep alive, whole seconds, at most 65535s; 0s = none.
   */
  keepAlive?: string;
  /**
   * Most unacknowledged messages at a time.
   */
  inFlight?: number;
  /**
   * Send a retained `online` status after connecting, with an `offline` last will.
   */
  status?: boolean;
}
/**
 * no-coverage: no network. power-cut: no power; a reboot afterwards. clock-unset: the clock loses its setting, and nothing sets it before the end.
 */
export interface PlainFault {
  kind: 'no-coverage' | 'power-cut' | 'clock-unset';
  on?: Selector;
  /**
   * Begins this long after the start of the scenario.
   */
  from?: string;
  /**
   * Ends this long after the start of the scenario (excluded). Left out = with the scenario.
   */
  until?: string;
}
/**
 * The antenna sees another sky.
 */
export interface SkyFault {
  kind: 'sky';
  on?: Selector;
  /**
   * Begins this long after the start of the scenario.
   */
  from?: string;
  /**
   * Ends this long after the start of the scenario (excluded). Left out = with the scenario.
   */
  until?: string;
  sky: Sky;
}
/**
 * The clock jumps at the beginning, and is set right at the end.
 */
export interface ClockJump {
  kind: 'clock-jump';
  on?: Selector;
  /**
   * Begins this long after the start of the scenario.
   */
  from?: string;
  /**
   * Ends this long after the start of the scenario (excluded). Left out = with the scenario.
   */
  until?: string;
  /**
   * How far the clock jumps; not 0.
   */
  by: string;
}
/**
 * A share of messages is sent twice.
 */
export interface RepeatSend {
  kind: 'repeat-send';
  on?: Selector;
  /**
   * Begins this long after the start of the scenario.
   */
  from?: string;
  /**
   * Ends this long after the start of the scenario (excluded). Left out = with the scenario.
   */
  until?: string;
  /**
   * Share of messages.
   */
  share?: string;
}
/**
 * The link drops at the beginning and again and again until the end; the tracker reconnects.
 */
export interface LinkDrop {
  kind: 'link-drop';
  on?: Selector;
  /**
   * Begins this long after the start of the scenario.
   */
  from?: string;
  /**
   * Ends this long after the start of the scenario (excluded). Left out = with the scenario.
   */
  until?: string;
  how?: DropHow;
  /**
   * Time from one drop to the next; longer than 0.
   */
  every?: string;
}
/**
 * sensor-stuck: the sensor repeats its last value. sensor-silent: it gives none.
 */
export interface SensorFault {
  kind: 'sensor-stuck' | 'sensor-silent';
  on?: Selector;
  /**
   * Begins this long after the start of the scenario.
   */
  from?: string;
  /**
   * Ends this long after the start of the scenario (excluded). Left out = with the scenario.
   */
  until?: string;
  sensor: Sensor;
}
/**
 * Single readings of a sensor are off.
 */
export interface SensorSpikes {
  kind: 'sensor-spikes';
  on?: Selector;
  /**
   * Begins this long after the start of the scenario.
   */
  from?: string;
  /**
   * Ends this long after the start of the scenario (excluded). Left out = with the scenario.
   */
  until?: string;
  sensor: Sensor;
  /**
   * How far off, in the sensor's unit.
   */
  by: number;
  /**
   * Share of readings.
   */
  share?: string;
}
