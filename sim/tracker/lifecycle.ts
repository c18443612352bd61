// From box to stream: numbers noted, firmware written, powered, searching, registered, claimed, streaming.
import { MINUTE_MS, SECOND_MS } from '../clock.ts';
import type { RandomStream } from '../random.ts';
import type { LifecyclePlan } from '../scenario/scenario.ts';
import type { Stage, StageEntered } from './event.ts';
import { iccidPrint, type Identity } from './identity.ts';

/** Something a person does to the tracker at a time fixed beforehand. */
interface Errand {
  readonly atMs: number;
  readonly stage: Stage;
  readonly note: string;
}

/** How long a person takes over each errand on the bench, ms: from … up to (common practice). */
const NOTE_NUMBERS_MS = [MINUTE_MS, 3 * MINUTE_MS] as const;
const WRITE_FIRMWARE_MS = [2 * MINUTE_MS, 5 * MINUTE_MS] as const;
const POWER_CYCLE_MS = [15 * SECOND_MS, MINUTE_MS] as const;
const WRONG_PIN_PAUSE_MS = [10 * SECOND_MS, MINUTE_MS] as const;

/**
 * The life of one tracker. Driven by `advance`, step by step; each stage is told once it is entered.
 * Loss of coverage changes no stage: a tracker that streams goes on measuring, and buffers.
 * A claim survives a power loss; the way to the network doesn't.
 */
export class Lifecycle {
  readonly #plan: LifecyclePlan;
  readonly #identity: Identity;
  readonly #random: RandomStream;
  readonly #bench: Errand[];

  #stage: Stage = 'boxed';
  #switchedOn: boolean;
  #supplied = true;
  #claimed: boolean;
  #wasRegistered = false;
  #refusals = 0;
  /** When the owner tries to claim it next; undefined until it registers for the first time. */
  #claimDueMs: number | undefined;

  constructor(plan: LifecyclePlan, identity: Identity, startMs: number, random: RandomStream) {
    this.#plan = plan;
    this.#identity = identity;
    this.#random = random;
    this.#switchedOn = plan.from === 'claimed';
    this.#claimed = plan.from === 'claimed';
    this.#bench = plan.from === 'box' ? benchErrands(plan, identity, startMs, random) : [];
  }

  get stage(): Stage {
    return this.#stage;
  }

  /** Whether its owner has switched it on. The supply is another matter: this stays true through a power loss. */
  get powered(): boolean {
    return this.#switchedOn;
  }

  /** Whether the tracker belongs to somebody: from here on it measures. */
  get claimed(): boolean {
    return this.#claimed;
  }

  /** Whether it has got through to streaming since power came on. */
  get streaming(): boolean {
    return this.#stage === 'streaming';
  }

  /** Moves on to `atMs`. `registered`: whether the radio is, at this instant. Times never go back. */
  advance(atMs: number, registered: boolean): StageEntered[] {
    if (!this.#supplied) return [];
    const told: StageEntered[] = [];
    if (!this.#switchedOn) {
      this.#doBenchErrands(atMs, told);
      return told;
    }
    if (this.#stage === 'boxed') this.#enter(told, atMs, 'powered', 'deployed and claimed before');
    if (this.#stage === 'powered') this.#enter(told, atMs, 'searching', '');
    if (this.#stage === 'searching' && registered) {
      this.#enter(told, atMs, 'registered', '');
      this.#claimDueMs ??= atMs + this.#plan.claimAfterMs;
      if (!this.#claimed) this.#enter(told, atMs, 'waiting-for-claim', 'needs its 15-digit id and its PIN');
    }
    if (registered && !this.#claimed) this.#tryClaims(atMs, told);
    if (registered && this.#claimed && (this.#stage === 'registered' || this.#stage === 'claimed')) {
      this.#enter(told, told.at(-1)?.atMs ?? atMs, 'streaming', '');
    }
    this.#wasRegistered = registered;
    return told;
  }

  /** The supply went. */
  powerLost(atMs: number): StageEntered[] {
    const told: StageEntered[] = [];
    if (!this.#supplied || !this.#switchedOn) return told;
    this.#supplied = false;
    this.#wasRegistered = false;
    this.#enter(told, atMs, 'off', 'power lost');
    return told;
  }

  /** The supply is back: a reboot. */
  powerBack(atMs: number): StageEntered[] {
    const told: StageEntered[] = [];
    if (this.#supplied) return told;
    this.#supplied = true;
    this.#enter(told, atMs, 'powered', 'power back');
    return told;
  }

  #doBenchErrands(atMs: number, told: StageEntered[]): void {
    for (let next = this.#bench[0]; next && next.atMs <= atMs; next = this.#bench[0]) {
      this.#bench.shift();
      this.#enter(told, next.atMs, next.stage, next.note);
      if (next.stage === 'powered') this.#switchedOn = true;
    }
  }

  /** The owner's tries that are due. A tracker that isn't online can't be claimed, so a try waits until it is. */
  #tryClaims(atMs: number, told: StageEntered[]): void {
    while (!this.#claimed && this.#claimDueMs !== undefined && this.#claimDueMs <= atMs) {
      const triedMs = this.#wasRegistered ? this.#claimDueMs : atMs;
      if (this.#refusals < this.#plan.wrongPins) {
        this.#refusals += 1;
        const note = `wrong PIN, ${this.#refusals} of ${this.#plan.wrongPins}`;
        this.#enter(told, triedMs, 'claim-refused', note);
        this.#claimDueMs = triedMs + between(WRONG_PIN_PAUSE_MS, this.#random);
      } else {
        this.#claimed = true;
        this.#enter(told, triedMs, 'claimed', `id ${this.#identity.imei} and the right PIN`);
      }
    }
  }

  #enter(told: StageEntered[], atMs: number, stage: Stage, note: string): void {
    this.#stage = stage;
    told.push({ kind: 'stage', atMs, stage, note });
  }
}

/** What happens to a tracker on the bench, in order of time. Once the SIM is in, its print can't be read. */
function benchErrands(
  plan: LifecyclePlan,
  identity: Identity,
  startMs: number,
  random: RandomStream,
): Errand[] {
  let atMs = startMs + between(NOTE_NUMBERS_MS, random);
  const numbers = `SIM ${iccidPrint(identity.iccid)}, PUK ${identity.puk}`;
  const errands: Errand[] = [{ atMs, stage: 'numbers-noted', note: numbers }];
  for (let failed = 1; failed <= plan.failedWrites; failed++) {
    atMs += between(WRITE_FIRMWARE_MS, random);
    const note = `write ${failed} failed; again after a power cycle`;
    errands.push({ atMs, stage: 'firmware-failed', note });
    atMs += between(POWER_CYCLE_MS, random);
  }
  atMs += between(WRITE_FIRMWARE_MS, random);
  errands.push({ atMs, stage: 'firmware-written', note: '' });
  atMs += between(POWER_CYCLE_MS, random);
  errands.push({ atMs, stage: 'powered', note: 'switched on, SIM in' });
  return errands;
}

/** Whole ms from the range, ends included. */
function between([fromMs, toMs]: readonly [number, number], random: RandomStream): number {
  return fromMs + random.below(toMs - fromMs + 1);
}
