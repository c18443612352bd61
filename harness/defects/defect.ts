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
  /** Where the diagnosis must place it. */
  readonly hop: Hop;
  /** A contract of its own, relative to the package; left out = the reference pipeline's. */
  readonly contract?: string;
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

/** A defect of a stage; its hop is the stage's own unless told otherwise. */
export function defect(stage: Stage, told: Told, damage: MakeDamage | Damage): Defect {
  const make = typeof damage === 'function' ? damage : () => damage;
  return { hop: HOPS[stage], ...told, stage, damage: make };
}
