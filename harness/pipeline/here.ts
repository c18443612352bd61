// Starts the reference pipeline in this process from options that could be sent to another.
import { decoderFor } from '../../sim/index.ts';
import { defectNamed } from '../defects/index.ts';
import type { HostedOptions } from './messages.ts';
import { ReferencePipeline } from './reference.ts';

/** Rejects with NotCompleted; BadInput where there is no defect of the name asked for. */
export async function startFrom({
  subscriptions,
  defect,
  ...options
}: HostedOptions): Promise<ReferencePipeline> {
  const decoded = subscriptions.map(({ filter, payload }) => ({
    filter,
    decode: payload === null ? null : decoderFor(payload),
  }));
  const damage = defect === undefined ? undefined : defectNamed(defect).damage;
  return await ReferencePipeline.start({ ...options, subscriptions: decoded }, damage);
}
