// The tracker's own clock: what it believes the time to be, and who told it.
import type { ClockSource } from '../reading.ts';
import type { LifecyclePlan } from '../scenario/scenario.ts';
import type { TrackerFaults } from './faults.ts';

export class TrackerClock {
  readonly #plan: LifecyclePlan;
  readonly #faults: TrackerFaults;
  /** What the clock shows minus true time. */
  #offsetMs = 0;
  #source: ClockSource;

  constructor(plan: LifecyclePlan, faults: TrackerFaults) {
    this.#plan = plan;
    this.#faults = faults;
    this.#source = 'unset';
  }

  /** Power came on. Unless it kept time over the loss, the clock starts from its default. */
  powerOn(atMs: number): void {
    if (this.#source !== 'unset' && this.#plan.clockSurvives) return;
    this.#unset(atMs);
  }

  /** Time sources in reach at this instant, best first; a clock fault keeps them all out. */
  listen(atMs: number, registered: boolean, gnssTime: boolean): void {
    const fault = this.#faults.clockFault(atMs);
    if (fault === undefined) {
      if (gnssTime) this.#set('gnss', 0);
      else if (registered) this.#set(this.#source === 'gnss' ? 'gnss' : 'network', 0);
    } else if (fault.kind === 'clock-jump') {
      this.#set(this.#source, fault.byMs);
    } else if (this.#source !== 'unset') {
      this.#unset(fault.fromMs);
    }
  }

  get source(): ClockSource {
    return this.#source;
  }

  /** What the clock shows, Unix ms. */
  showsMs(atMs: number): number {
    return atMs + this.#offsetMs;
  }

  #set(source: ClockSource, offsetMs: number): void {
    this.#source = source;
    this.#offsetMs = offsetMs;
  }

  #unset(sinceMs: number): void {
    this.#set('unset', this.#plan.unsetClockMs - sinceMs);
  }
}
