// A deliberate defect of the reference pipeline: proof that the checks see what they are there for.
import type { Damage, MakeDamage } from '../pipeline/damage.ts';
import type { Hop } from '../verdict/verdict.ts';

export type Stage = 'subscription' | 'consumer' | 'store' | 'export' | 'reader';

export interface Defect {
  /** Short, in words joined by hyphens. */
  readonly name: string;
  readonly stage: Stage;
  /** How it comes about in real life, in one sentence. */
  readonly happens: string;
  /** Ids of the checks that must break, the main one first. */
  readonly breaks: readonly [string, ...string[]];
  /** Name of the cause that the diagnosis must give. */
  readonly cause: string;
  /** Where the diagnosis must place it: the usual place, where a file doesn't show whether it was that one. */
  readonly hop: Hop;
  /** A contract of its own, relative to the package; left out = the reference pipeline's. */
  readonly contract?: string;
  /**
   * False: proved without the crash half-way. It is left out where the order of messages is the matter: after a
   * restart the embedded broker lets new messages overtake the kept ones, which no evidence shows.
   */
  readonly crash?: false;
  /** A scenario of its own, relative to the package; left out = the proving ground. */
  readonly scenario?: string;
  readonly damage: MakeDamage;
}

type Told = Omit<Defect, 'stage' | 'hop' | 'damage'> & { readonly hop?: Hop };

const HOPS: Readonly<Record<Stage, Hop>> = {
  subscription: 'consumer',
  consumer: 'consumer',
  store: 'store',
  export: 'export',
  reader: 'export',
};

/** Causes that look the same wherever they arise: they are placed where they mostly do. */
const USUAL: Readonly<Record<string, Hop>> = {
  'boot-ignored': 'consumer',
  'redelivery-stored': 'consumer',
  'gps-week': 'consumer',
  'gps-utc': 'consumer',
  clamped: 'consumer',
  'zero-as-absent': 'consumer',
  rounded: 'store',
  'absent-as-zero': 'store',
  'absent-as-text': 'export',
  'leading-zeros-lost': 'store',
  'zone-with-summer-time': 'store',
};

/** A defect of a stage; its hop is told, or that of its cause, or else the stage's own. */
export function defect(stage: Stage, told: Told, damage: MakeDamage | Damage): Defect {
  const make = typeof damage === 'function' ? damage : () => damage;
  return { hop: USUAL[told.cause] ?? HOPS[stage], ...told, stage, damage: make };
}
