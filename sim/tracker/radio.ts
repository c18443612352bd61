// The cellular modem: search, registration, signal, loss of coverage, and the waits between attach attempts.
import type { RandomStream } from '../random.ts';
import type { Access, RadioPlan } from '../scenario/scenario.ts';
import { GaussMarkov } from './gauss-markov.ts';
import { GilbertElliott } from './gilbert-elliott.ts';

export interface RadioState {
  readonly registered: boolean;
  /** Whole dBm within the reporting range; null while not registered. */
  readonly rsrpDbm: number | null;
  /** Tenths of a dB in steps of 5, -195 … -30; null while not registered. */
  readonly rsrqDbE1: number | null;
  /** Time spent searching since the step before, ms. */
  readonly searchMs: number;
}

/** Shadowing by terrain and buildings (common practice). */
const SHADOWING_DB = 4;
const SHADOWING_CORRELATION_S = 60;
/** How long a search goes on that finds no service (common practice). */
const SEARCH_MS = 10_000;

/** What can be reported: 3GPP TS 36.133 clause 9.1.4, and NRSRP for NB-IoT. Below it there is no service. */
const WEAKEST_DBM: Readonly<Record<Access, number>> = { 'lte-m': -140, 'nb-iot': -156 };
const STRONGEST_DBM = -44;

const LOWEST_RSRQ_E1 = -195;
const HIGHEST_RSRQ_E1 = -30;
/** Thermal noise in one subcarrier of 15 kHz, -174 dBm/Hz + 10 log10(15000), and a noise figure of 7 dB. */
const SUBCARRIER_NOISE_DBM = -125.2;
/** Share of the subcarriers that carry power: 1/6 in an idle cell (-3 dB), 1 in a full one (-10.8 dB). */
const CELL_LOAD = 0.5;

/** RSRQ by whole dB above the weakest RSRP of all: RSRP / (RSSI of one resource block). */
const RSRQ_E1: readonly number[] = Array.from(
  { length: STRONGEST_DBM - WEAKEST_DBM['nb-iot'] + 1 },
  (_, i) => {
    const noiseToSignalDb = SUBCARRIER_NOISE_DBM - (WEAKEST_DBM['nb-iot'] + i);
    const rsrqDb = -10 * Math.log10(12 * (CELL_LOAD + 10 ** (noiseToSignalDb / 10)));
    return 5 * Math.round(2 * rsrqDb);
  },
);

/**
 * The modem of one tracker. It is looked at only when stepped: what a step finds is taken to hold since the step before.
 * Times never go back.
 */
export class RadioModel {
  readonly #plan: RadioPlan;
  readonly #random: RandomStream;
  readonly #shadowing: GaussMarkov;
  readonly #outages: GilbertElliott | undefined;
  readonly #wrongImage: boolean;

  #powered = false;
  #registered = false;
  #lastMs: number;
  /** Start of the next attach attempt, and the wait after it should it fail. */
  #attemptMs = 0;
  #backOffMs = 0;
  /** End of the search that the last failed attempt began. */
  #searchUntilMs = Number.NEGATIVE_INFINITY;

  /** `random` moves the signal, `outageRandom` the outages. */
  constructor(plan: RadioPlan, startMs: number, random: RandomStream, outageRandom: RandomStream) {
    this.#plan = plan;
    this.#random = random;
    this.#shadowing = new GaussMarkov(SHADOWING_DB, SHADOWING_CORRELATION_S, random);
    this.#outages = plan.outages ? new GilbertElliott(plan.outages, startMs, outageRandom) : undefined;
    this.#wrongImage = plan.image !== plan.sim;
    this.#lastMs = startMs;
  }

  /** The first attach attempt is made at once. */
  powerOn(atMs: number): void {
    this.#powered = true;
    this.#startAttaching(atMs);
    this.#lastMs = atMs;
  }

  powerOff(atMs: number): void {
    this.#powered = false;
    this.#registered = false;
    this.#lastMs = atMs;
  }

  /** The modem at this instant, where the map gives `medianRsrpDbm`; null = no coverage. */
  step(atMs: number, medianRsrpDbm: number | null): RadioState {
    const sinceMs = this.#lastMs;
    this.#lastMs = atMs;
    if (!this.#powered) return { registered: false, rsrpDbm: null, rsrqDbE1: null, searchMs: 0 };

    // Both are drawn whether needed or not: a coverage hole must not shift the numbers after it.
    const shadowDb = this.#shadowing.at(atMs);
    const jitterE1 = 5 * (this.#random.below(3) - 1);
    // A modem that speaks another access technology than the network its SIM is for searches without end.
    if (this.#wrongImage) {
      return { registered: false, rsrpDbm: null, rsrqDbE1: null, searchMs: atMs - sinceMs };
    }

    const outage = this.#outages?.isBad(atMs) ?? false;
    const rsrpDbm = medianRsrpDbm === null ? Number.NEGATIVE_INFINITY : Math.round(medianRsrpDbm + shadowDb);
    const service = !outage && rsrpDbm >= WEAKEST_DBM[this.#plan.image];
    if (this.#registered && !service) {
      this.#startAttaching(atMs);
    }
    const searchMs = this.#registered ? 0 : this.#attach(sinceMs, atMs, service);
    if (!this.#registered) return { registered: false, rsrpDbm: null, rsrqDbE1: null, searchMs };

    const reportedDbm = Math.min(STRONGEST_DBM, rsrpDbm);
    const rsrqDbE1 = (RSRQ_E1[reportedDbm - WEAKEST_DBM['nb-iot']] ?? LOWEST_RSRQ_E1) + jitterE1;
    return {
      registered: true,
      rsrpDbm: reportedDbm,
      rsrqDbE1: Math.min(HIGHEST_RSRQ_E1, Math.max(LOWEST_RSRQ_E1, rsrqDbE1)),
      searchMs,
    };
  }

  #startAttaching(atMs: number): void {
    this.#registered = false;
    this.#attemptMs = atMs;
    this.#backOffMs = this.#plan.backOffFirstMs;
    this.#searchUntilMs = Number.NEGATIVE_INFINITY;
  }

  /** Makes the attempts that are due by `atMs`. Returns the time spent searching since `sinceMs`. */
  #attach(sinceMs: number, atMs: number, service: boolean): number {
    let searchMs = overlapMs(sinceMs, atMs, this.#searchUntilMs);
    while (this.#attemptMs <= atMs) {
      if (service) {
        this.#registered = true;
        break;
      }
      this.#searchUntilMs = this.#attemptMs + SEARCH_MS;
      searchMs += overlapMs(this.#attemptMs, atMs, this.#searchUntilMs);
      this.#attemptMs = this.#searchUntilMs + this.#backOffMs;
      this.#backOffMs = Math.min(this.#plan.backOffLastMs, 2 * this.#backOffMs);
    }
    return searchMs;
  }
}

/** Length of [fromMs, toMs) up to `endMs`. */
function overlapMs(fromMs: number, toMs: number, endMs: number): number {
  return Math.max(0, Math.min(toMs, endMs) - fromMs);
}
