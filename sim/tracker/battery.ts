// A lithium-ion battery by coulomb counting: state of charge, voltage under load, brown-out and recovery.
import { DAY_MS, HOUR_MS } from '../clock.ts';
import type { BatteryPlan } from '../scenario/scenario.ts';

/** How long each consumer was on within an interval, ms. The rest of the interval is sleep. */
export interface PowerUse {
  readonly gnssMs: number;
  readonly transmitMs: number;
  readonly searchMs: number;
}

type Curve = readonly (readonly [x: number, y: number])[];

/** Open-circuit voltage of one cell, mV, by charge in percent (common practice: 4.20 V full, 3.0 V empty). */
const OPEN_CIRCUIT_MV: Curve = [
  [0, 3000],
  [2, 3250],
  [5, 3400],
  [10, 3480],
  [20, 3570],
  [30, 3620],
  [40, 3650],
  [50, 3690],
  [60, 3760],
  [70, 3850],
  [80, 3950],
  [90, 4060],
  [100, 4200],
];
/** Share of the capacity that can be drawn, by temperature in °C (common practice). */
const USABLE_SHARE: Curve = [
  [-40, 0.3],
  [-20, 0.6],
  [-10, 0.75],
  [0, 0.88],
  [20, 1],
];
/** Internal resistance with its wiring, ohm, by temperature in °C (common practice). */
const RESISTANCE_OHM: Curve = [
  [-40, 1.2],
  [-20, 0.5],
  [0, 0.25],
  [20, 0.15],
];
const CUT_OFF_MV = 3000;
const FULL_MV = 4200;
/** A tracker that went flat starts again only above this charge, or it would start and fail over and over. */
const RESTART_PCT = 5;

/** The battery of one tracker. Charge is counted in mA·ms, so that whole currents and times add up exactly. */
export class BatteryModel {
  readonly #plan: BatteryPlan;
  readonly #full: number;
  #charge: number;
  #millivolts: number;
  #flat: boolean;

  /** The battery holds no time of its own: `_startMs` only keeps all models alike to construct. */
  constructor(plan: BatteryPlan, _startMs: number) {
    this.#plan = plan;
    this.#full = plan.capacityMah * HOUR_MS;
    this.#charge = (this.#full * plan.startPct) / 100;
    this.#millivolts = Math.round(on(OPEN_CIRCUIT_MV, plan.startPct));
    this.#flat = this.#charge <= 0;
  }

  /** Terminal voltage, whole mV: sags under the last interval's largest current, rises on charge. */
  get millivolts(): number {
    return this.#millivolts;
  }

  /** Charge, whole percent, 0 … 100. Never rises unless charging, whatever the temperature does. */
  get pct(): number {
    return Math.round(this.#exactPct);
  }

  /** Too low to run: from the cut-off on until charged to 5 % again. */
  get flat(): boolean {
    return this.#flat;
  }

  /** An interval of `dtMs` that ends at `dayMs` (ms after midnight), with the tracker on. */
  spend(dtMs: number, use: PowerUse, airTempC: number, dayMs: number): void {
    const { sleepMa, gnssMa, transmitMa, searchMa } = this.#plan;
    const sleepMs = Math.max(0, dtMs - use.gnssMs - use.transmitMs - use.searchMs);
    const drawn =
      sleepMa * sleepMs + gnssMa * use.gnssMs + transmitMa * use.transmitMs + searchMa * use.searchMs;
    const peakMa = Math.max(
      sleepMa,
      use.gnssMs > 0 ? gnssMa : 0,
      use.transmitMs > 0 ? transmitMa : 0,
      use.searchMs > 0 ? searchMa : 0,
    );
    this.#pass(dtMs, drawn, peakMa, dayMs, airTempC);
  }

  /** An interval of `dtMs` that ends at `dayMs`, with the tracker off: no load, may charge. */
  rest(dtMs: number, dayMs: number, airTempC: number): void {
    this.#pass(dtMs, 0, 0, dayMs, airTempC);
  }

  get #exactPct(): number {
    return (100 * this.#charge) / this.#full;
  }

  #pass(dtMs: number, drawn: number, peakMa: number, dayMs: number, airTempC: number): void {
    // Cold costs charge as it is drawn. Shrinking the capacity instead would make the charge rise in the sun.
    const cost = drawn / on(USABLE_SHARE, airTempC);
    const { chargeMa } = this.#plan;
    let chargingMa = 0;
    if (chargeMa > 0 && this.#plan.chargeFromMs !== this.#plan.chargeUntilMs) {
      // In stretches with and without charging: the charge stops at full and at empty, so their order matters.
      let fromMs = dayMs - dtMs;
      while (fromMs < dayMs) {
        const charging = this.#onCharge(fromMs);
        const untilMs = Math.min(dayMs, this.#nextEdge(fromMs));
        const share = (untilMs - fromMs) / dtMs;
        this.#add((charging ? chargeMa * (untilMs - fromMs) : 0) - cost * share);
        chargingMa = charging ? chargeMa : 0;
        fromMs = untilMs;
      }
    } else {
      this.#add(-cost);
    }
    this.#measure(peakMa - chargingMa, airTempC);
  }

  #add(charge: number): void {
    this.#charge = Math.min(this.#full, Math.max(0, this.#charge + charge));
  }

  #measure(netMa: number, airTempC: number): void {
    const dropMv = netMa * on(RESISTANCE_OHM, airTempC);
    const mv = on(OPEN_CIRCUIT_MV, this.#exactPct) - dropMv;
    this.#millivolts = Math.min(FULL_MV, Math.max(0, Math.round(mv)));
    if (this.#charge <= 0 || mv < CUT_OFF_MV) this.#flat = true;
    else if (this.#exactPct >= RESTART_PCT) this.#flat = false;
  }

  /** Whether the charger is on at this time of the day. A window whose end is before its start spans midnight. */
  #onCharge(ms: number): boolean {
    const { chargeFromMs, chargeUntilMs } = this.#plan;
    const inDay = ms - Math.floor(ms / DAY_MS) * DAY_MS;
    return chargeFromMs < chargeUntilMs
      ? inDay >= chargeFromMs && inDay < chargeUntilMs
      : inDay >= chargeFromMs || inDay < chargeUntilMs;
  }

  /** The next time after `ms` at which the charger goes on or off. */
  #nextEdge(ms: number): number {
    const midnight = Math.floor(ms / DAY_MS) * DAY_MS;
    const from = midnight + (this.#plan.chargeFromMs % DAY_MS);
    const until = midnight + (this.#plan.chargeUntilMs % DAY_MS);
    return Math.min(from > ms ? from : from + DAY_MS, until > ms ? until : until + DAY_MS);
  }
}

/** Linear interpolation; beyond its ends a curve stays level. */
function on(curve: Curve, x: number): number {
  let low: Curve[number] | undefined;
  for (const high of curve) {
    if (x <= high[0]) {
      return low === undefined ? high[1] : low[1] + ((high[1] - low[1]) * (x - low[0])) / (high[0] - low[0]);
    }
    low = high;
  }
  return low?.[1] ?? Number.NaN;
}
