// One measurement record, and the table of its fields.
// Numbers are kept as whole multiples of the field's resolution: `latDegE7` is degrees × 10^7.
// A last-bit difference in a maths library therefore can't reach the bytes.

/** Who set the tracker's clock last. `unset` counts from the clock's power-on default. */
export type ClockSource = 'unset' | 'network' | 'gnss';

/** What the receiver says of the position. `last` = the last known position, repeated. */
export type Fix = 'none' | 'last' | '2d' | '3d';

/** One measurement record. Identity: (id, boot, seq), plus the time measured. */
export interface Reading {
  /** 15-digit IMEI; text, because test IMEIs start with 0. */
  readonly id: string;
  /** Text on the crate. May hold anything that text can hold. */
  readonly label: string;
  /** Counts power-ons from 1. */
  readonly boot: number;
  /** Counts readings; starts again at 0 on each boot, or goes on, by the scenario's choice. */
  readonly seq: number;
  /** Time measured, by the tracker's own clock, Unix ms. */
  readonly atMs: number;
  readonly clock: ClockSource;
  readonly fix: Fix;
  /** WGS 84. The position fields are null together, when there is none. */
  readonly latDegE7: number | null;
  readonly lonDegE7: number | null;
  readonly altME1: number | null;
  readonly speedMpsE2: number | null;
  readonly courseDegE1: number | null;
  readonly satellites: number;
  readonly hdopE1: number | null;
  /** The receiver's own estimate of its horizontal error: DRMS, metres. */
  readonly accuracyME1: number | null;
  readonly airTempCE2: number | null;
  readonly humidityPctE1: number | null;
  readonly pressurePa: number | null;
  /** Peak acceleration beyond gravity since the reading before. */
  readonly accelMps2E2: number | null;
  readonly batteryVE3: number;
  readonly batteryPct: number;
  readonly rsrpDbm: number | null;
  readonly rsrqDbE1: number | null;
}

/** The keys of Reading that hold a scaled whole number. */
export type NumberKey = {
  [K in keyof Reading]-?: Reading[K] extends number | null ? K : never;
}[keyof Reading];

export type Field =
  | {
      readonly kind: 'text';
      /** Name on the wire and in the contract. */
      readonly name: string;
      readonly key: 'id' | 'label' | 'clock' | 'fix';
      readonly about: string;
    }
  | { readonly kind: 'time'; readonly name: string; readonly key: 'atMs'; readonly about: string }
  | {
      readonly kind: 'number';
      readonly name: string;
      readonly key: Exclude<NumberKey, 'atMs'>;
      /** Value = stored whole number / 10^decimals. */
      readonly decimals: number;
      readonly unit: string;
      readonly nullable: boolean;
      readonly min: number;
      readonly max: number;
      readonly about: string;
    };

type NumberField = Extract<Field, { kind: 'number' }>;

function number(
  name: string,
  key: NumberField['key'],
  decimals: number,
  unit: string,
  range: readonly [number, number],
  nullable: boolean,
  about: string,
): NumberField {
  return { kind: 'number', name, key, decimals, unit, nullable, min: range[0], max: range[1], about };
}

/** Every field of a reading, in the order in which it is written. Ranges are physical values in `unit`. */
export const FIELDS: readonly Field[] = [
  { kind: 'text', name: 'id', key: 'id', about: 'tracker id: 15-digit IMEI, as text' },
  { kind: 'text', name: 'label', key: 'label', about: 'text on the crate' },
  number('boot', 'boot', 0, '1', [1, 2 ** 31], false, 'power-ons, from 1'),
  number('seq', 'seq', 0, '1', [0, 2 ** 53 - 1], false, 'number of the reading'),
  { kind: 'time', name: 'at', key: 'atMs', about: 'time measured, UTC, RFC 3339, milliseconds' },
  { kind: 'text', name: 'clock', key: 'clock', about: 'who set the clock: unset, network or gnss' },
  { kind: 'text', name: 'fix', key: 'fix', about: 'none, last (last known position), 2d or 3d' },
  number('latDeg', 'latDegE7', 7, 'deg', [-90, 90], true, 'latitude, WGS 84'),
  number('lonDeg', 'lonDegE7', 7, 'deg', [-180, 180], true, 'longitude, WGS 84'),
  number('altM', 'altME1', 1, 'm', [-1000, 20_000], true, 'height above the sea'),
  number('speedMps', 'speedMpsE2', 2, 'm/s', [0, 200], true, 'speed over ground'),
  number('courseDeg', 'courseDegE1', 1, 'deg', [0, 360], true, 'course over ground, from north'),
  number('satellites', 'satellites', 0, '1', [0, 64], false, 'satellites used'),
  number('hdop', 'hdopE1', 1, '1', [0, 99.9], true, 'horizontal dilution of precision'),
  number('accuracyM', 'accuracyME1', 1, 'm', [0, 100_000], true, 'estimated horizontal error, DRMS'),
  number('airTempC', 'airTempCE2', 2, 'Cel', [-100, 150], true, 'air temperature'),
  number('humidityPct', 'humidityPctE1', 1, '%RH', [0, 100], true, 'relative humidity'),
  number('pressurePa', 'pressurePa', 0, 'Pa', [1000, 120_000], true, 'air pressure'),
  number('accelMps2', 'accelMps2E2', 2, 'm/s2', [0, 1000], true, 'peak acceleration beyond gravity'),
  number('batteryV', 'batteryVE3', 3, 'V', [0, 60], false, 'battery voltage'),
  number('batteryPct', 'batteryPct', 0, '%EL', [0, 100], false, 'battery charge'),
  number('rsrpDbm', 'rsrpDbm', 0, 'dBm', [-156, -44], true, 'reference signal received power'),
  number('rsrqDb', 'rsrqDbE1', 1, 'dB', [-34, 2.5], true, 'reference signal received quality'),
];
