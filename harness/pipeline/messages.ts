// What the harness and the pipeline's process say to each other.
import type { PayloadKind } from '../../sim/index.ts';
import type { BatchSize, BrokerAddress, ExportQuery } from './pipeline.ts';

/** PipelineOptions with the payload's kind in place of its decoder, which can't be sent to a process. */
export interface HostedOptions {
  readonly storeFile: string;
  readonly broker: BrokerAddress;
  readonly subscriptions: readonly { readonly filter: string; readonly payload: PayloadKind | null }[];
  readonly batch: BatchSize;
  /** Name of a deliberate defect; left out = none. */
  readonly defect?: string;
}

export type Request =
  | { readonly kind: 'start'; readonly options: HostedOptions }
  | { readonly kind: 'counts' }
  | { readonly kind: 'flush' }
  | { readonly kind: 'crash' }
  | { readonly kind: 'resume' }
  | { readonly kind: 'export'; readonly query: ExportQuery }
  | { readonly kind: 'exportRejects'; readonly file: string }
  | { readonly kind: 'close' };

export interface Asked {
  readonly call: number;
  readonly request: Request;
}

export type Answer =
  | { readonly call: number; readonly ok: true; readonly value: unknown }
  | {
      readonly call: number;
      readonly ok: false;
      readonly error: 'BadInput' | 'NotCompleted';
      readonly message: string;
    };
