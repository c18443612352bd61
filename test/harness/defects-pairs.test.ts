// Two defects in one pipeline are both caught, each by its own cause, where they can be told apart.
import { describe, expect, it } from 'vitest';
import { composed } from '../../harness/defects/compose.ts';
import { defaultContract } from '../../harness/contract/read-contract.ts';
import { defectNamed } from '../../harness/defects/index.ts';
import { proveTogether } from '../../harness/defects/prove.ts';
import { BadInput } from '../../sim/index.ts';

const PAIRS = [
  // Two that lose readings.
  ['position-required', 'negative-refused'],
  ['topic-not-covered', 'session-lost-on-restart'],
  ['cbor-refused', 'batch-cut'],
  ['old-refused', 'row-cap'],
  ['boot-ignored', 'position-required'],
  ['watermark', 'position-required'],
  // One that loses readings, and one that changes values.
  ['ack-before-work', 'single-precision'],
  ['page-edge-lost', 'leap-seconds'],
  ['payload-size-limit', 'case-folded'],
  ['same-time-overwrite', 'axes-swapped'],
  // Two that change values.
  ['whole-seconds', 'emoji-lost'],
  ['int16-overflow', 'day-month-swapped'],
  // Form, order and repeats.
  ['no-dedupe', 'byte-order-mark'],
  ['falling', 'null-as-word'],
  ['header-renamed', 'quotes-not-doubled'],
] as const;

describe('two defects at once', () => {
  it.each(PAIRS)('%s and %s', async (one, other) => {
    const proofs = await proveTogether([defectNamed(one), defectNamed(other)]);
    expect(proofs.map(({ defect }) => defect)).toEqual([one, other]);
    for (const proof of proofs)
      expect(proof).toMatchObject({ caught: true, rightCause: true, rightHop: true });
  });
});

describe('damage composed', () => {
  it('goes through both, in order', () => {
    const damage = composed([
      () => ({ lines: (sound) => [...sound, 'one'] }),
      () => ({ encoding: 'latin1', lines: (sound) => [...sound, 'two'] }),
    ])();
    const query = { fromMs: 0, toMs: 1, file: '', columns: [], order: [], csv: defaultContract().csv };
    expect([...(damage.lines?.(['zero'], query) ?? [])]).toEqual(['zero', 'one', 'two']);
    expect(damage.encoding).toBe('latin1');
  });

  it('ends at the first that lets a message go', () => {
    const message = { topic: 'a', payload: new Uint8Array(), retained: false, ack: () => {} };
    const damage = composed([
      () => ({ message: () => undefined }),
      () => ({
        message: () => {
          throw new Error('asked');
        },
      }),
    ])();
    expect(damage.message?.(message)).toBeUndefined();
  });

  it('is refused where both set the store, and where contracts differ', async () => {
    const [a, b] = [defectNamed('boot-ignored'), defectNamed('no-dedupe')];
    expect(() => composed([a.damage, b.damage])()).toThrow("sets the pipeline's store");
    await expect(proveTogether([defectNamed('sorted-as-text'), a])).rejects.toThrow(BadInput);
  });
});
