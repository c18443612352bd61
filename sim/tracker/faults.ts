// The faults that strike one tracker, asked by time. Most trackers have none, so the empty case is quick.
import type { RandomStream } from '../random.ts';
import type { Sky } from '../place/place.ts';
import type { Fault, FaultKind, SensorName } from '../scenario/scenario.ts';
import { NO_SENSOR_FAULTS, type SensorFaults } from './sensors.ts';

type FaultOf<K extends FaultKind> = Extract<Fault, { kind: K }>;

/** Something that happens at an instant between two ticks. */
export interface Happening {
  readonly atMs: number;
  readonly what:
    | { readonly kind: 'power-lost' }
    | { readonly kind: 'power-back' }
    | { readonly kind: 'link-drop'; readonly how: FaultOf<'link-drop'>['how'] };
}

export class TrackerFaults {
  readonly #faults: readonly Fault[];
  readonly #happenings: readonly Happening[];
  readonly #sensorFaults: readonly FaultOf<'sensor-stuck' | 'sensor-silent' | 'sensor-spikes'>[];
  #nextHappening = 0;

  constructor(all: readonly Fault[], tracker: number) {
    this.#faults = all.filter((fault) => fault.trackers.has(tracker));
    this.#happenings = this.#faults.flatMap(happeningsOf).toSorted((a, b) => a.atMs - b.atMs);
    this.#sensorFaults = this.#faults.filter(
      (fault) =>
        fault.kind === 'sensor-stuck' || fault.kind === 'sensor-silent' || fault.kind === 'sensor-spikes',
    );
  }

  /** The next happening at or before `untilMs`, in order of time; each is given once. */
  take(untilMs: number): Happening | undefined {
    const next = this.#happenings[this.#nextHappening];
    if (next === undefined || next.atMs > untilMs) return undefined;
    this.#nextHappening += 1;
    return next;
  }

  #active<K extends FaultKind>(kind: K, atMs: number): FaultOf<K> | undefined {
    for (const fault of this.#faults) {
      if (fault.kind === kind && atMs >= fault.fromMs && atMs < fault.untilMs) return fault as FaultOf<K>;
    }
    return undefined;
  }

  hasCoverage(atMs: number): boolean {
    return this.#active('no-coverage', atMs) === undefined;
  }

  sky(atMs: number): Sky | undefined {
    return this.#active('sky', atMs)?.sky;
  }

  /** The fault that keeps the clock from being set, or undefined. */
  clockFault(atMs: number): FaultOf<'clock-jump' | 'clock-unset'> | undefined {
    return this.#active('clock-jump', atMs) ?? this.#active('clock-unset', atMs);
  }

  repeats(atMs: number, random: RandomStream): boolean {
    const fault = this.#active('repeat-send', atMs);
    return fault !== undefined && random.chance(fault.share.num, fault.share.den);
  }

  sensors(atMs: number): SensorFaults {
    if (this.#sensorFaults.length === 0) return NO_SENSOR_FAULTS;
    const active = (kind: FaultKind, sensor: SensorName) =>
      this.#sensorFaults.find(
        (fault) =>
          fault.kind === kind && fault.sensor === sensor && atMs >= fault.fromMs && atMs < fault.untilMs,
      );
    return {
      stuck: (sensor) => active('sensor-stuck', sensor) !== undefined,
      silent: (sensor) => active('sensor-silent', sensor) !== undefined,
      spike: (sensor) => {
        const fault = active('sensor-spikes', sensor);
        return fault?.kind === 'sensor-spikes' ? fault : undefined;
      },
    };
  }
}

function happeningsOf(fault: Fault): Happening[] {
  if (fault.kind === 'power-cut') {
    return [
      { atMs: fault.fromMs, what: { kind: 'power-lost' } },
      { atMs: fault.untilMs, what: { kind: 'power-back' } },
    ];
  }
  if (fault.kind === 'link-drop') {
    const drops: Happening[] = [];
    for (let atMs = fault.fromMs; atMs < fault.untilMs; atMs += fault.everyMs) {
      drops.push({ atMs, what: { kind: 'link-drop', how: fault.how } });
    }
    return drops;
  }
  return [];
}
