// What one tracker does, in order of virtual time. This is all that leaves the models.
import type { Reading } from '../reading.ts';
import type { DropHow, Qos } from '../scenario/scenario.ts';

/** From box to stream. */
export type Stage =
  | 'boxed'
  | 'numbers-noted'
  | 'firmware-failed'
  | 'firmware-written'
  | 'powered'
  | 'searching'
  | 'registered'
  | 'waiting-for-claim'
  | 'claim-refused'
  | 'claimed'
  | 'streaming'
  | 'off';

/** The tracker entered a stage of its life. Told in reports; nothing is sent. */
export interface StageEntered {
  readonly kind: 'stage';
  /** True virtual time, Unix ms (the tracker's own clock may differ). */
  readonly atMs: number;
  readonly stage: Stage;
  readonly note: string;
}

/** The tracker opens its MQTT session. */
export interface Connect {
  readonly kind: 'connect';
  readonly atMs: number;
}

export interface Disconnect {
  readonly kind: 'disconnect';
  readonly atMs: number;
  readonly how: DropHow;
}

/** One MQTT message that the tracker tries to publish. */
export interface Emission {
  readonly kind: 'emission';
  readonly atMs: number;
  /** Number of the emission in the tracker's life, from 0; repeats of a message have numbers of their own. */
  readonly n: number;
  readonly purpose: 'readings' | 'status';
  readonly topic: string;
  readonly qos: Qos;
  readonly retain: boolean;
  /** The readings inside: one, or a batch after an outage; none in a status message. */
  readonly readings: readonly Reading[];
  /** True when the same message was emitted before (a deliberate repeat). */
  readonly repeat: boolean;
  /** Status messages only: the boot it speaks of. */
  readonly boot: number;
}

/** Readings that the tracker made and will never send, and why. */
export interface Discard {
  readonly kind: 'discard';
  readonly atMs: number;
  readonly why: 'buffer-full' | 'power-lost' | 'still-in-buffer' | 'not-streaming';
  readonly readings: readonly Reading[];
}

export type TrackerEvent = StageEntered | Connect | Disconnect | Emission | Discard;
