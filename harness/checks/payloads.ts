// The payloads that the broker accepted, against the schema of their kind.
import { readFileSync } from 'node:fs';
import { Ajv2020, type ValidateFunction } from 'ajv/dist/2020.js';
import { decoderFor, payloadSchemaFile, RangeSet, type Emission, type TrackerSpec } from '../../sim/index.ts';
import type { AtTap } from '../expected/reconcile.ts';
import { Collector } from '../verdict/collector.ts';
import type { CheckResult } from '../verdict/verdict.ts';
import { notSeen, result, type CheckAbout } from './check.ts';

/** Reads payloads one by one while they are made again; counts only those that the tap saw. */
export class PayloadsValid {
  readonly about: CheckAbout = {
    id: 'schema.payloads',
    family: 'schema',
    promise: 'every payload at the tap is valid: plain JSON by its JSON Schema, SenML by RFC 8428',
    proves: 'each payload accepted, by its digest the same bytes as were checked, reads without a fault',
    cannotProve: 'that another reader accepts the same',
  };
  readonly #validate: ValidateFunction;
  readonly #made: { readonly id: string; readonly n: number; readonly why: string }[] = [];
  readonly #checked = new Map<string, RangeSet>();

  constructor() {
    const schema = JSON.parse(readFileSync(payloadSchemaFile(), 'utf8')) as object;
    this.#validate = new Ajv2020({ strict: true }).compile(schema);
  }

  take(spec: TrackerSpec, emission: Emission, payload: Uint8Array): void {
    if (emission.purpose !== 'readings') return;
    const id = spec.identity.imei;
    let checked = this.#checked.get(id);
    if (!checked) {
      checked = new RangeSet();
      this.#checked.set(id, checked);
    }
    checked.add(emission.n);
    const why = this.#fault(spec, payload);
    if (why !== undefined) this.#made.push({ id, n: emission.n, why });
  }

  #fault(spec: TrackerSpec, payload: Uint8Array): string | undefined {
    try {
      if (spec.group.mqtt.payload !== 'plain') {
        decoderFor(spec.group.mqtt.payload)(payload);
        return undefined;
      }
      if (this.#validate(JSON.parse(Buffer.from(payload).toString('utf8')))) return undefined;
      const [error] = this.#validate.errors ?? [];
      return `${error?.instancePath ?? ''} ${error?.message ?? 'is not valid'}`;
    } catch (error) {
      return error instanceof Error ? error.message : String(error);
    }
  }

  end(tap: AtTap | undefined): CheckResult {
    if (!tap) return notSeen(this.about, 'there was no tap on the broker');
    const wrong = new Collector('payloads are not valid', 'tracker');
    for (const { id, n, why } of this.#made) {
      if (tap.trackers.get(id)?.accepted.has(n) !== true) continue;
      wrong.add(id, () => ({ tracker: id, found: `message ${n}: ${why}` }));
    }
    let looked = 0;
    for (const [id, checked] of this.#checked) {
      for (const n of tap.trackers.get(id)?.accepted ?? []) if (checked.has(n)) looked += 1;
    }
    return result(this.about, looked, `${looked} payloads`, wrong.findings());
  }
}
