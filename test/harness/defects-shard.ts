// One share of the proofs, so that several test files can run them side by side.
import { describe, expect, it } from 'vitest';
import { DEFECTS } from '../../harness/defects/index.ts';
import { proveDefect } from '../../harness/defects/prove.ts';

const SHARDS = 4;

/** Proves each defect k of the list for which k mod SHARDS is `shard`; the first share proves the sound pipeline, too. */
export function proveShard(shard: number): void {
  describe(`defects on the proving ground, share ${shard + 1} of ${SHARDS}`, () => {
    it.runIf(shard === 0)('the sound pipeline is held, through a crash', async () => {
      expect(await proveDefect(null)).toMatchObject({ outcome: 'held', brokenChecks: [], incomplete: null });
    });

    const share = DEFECTS.filter((_, k) => k % SHARDS === shard);
    it.each(share.map((defect) => [defect.name, defect] as const))(
      '%s is caught, with its cause and hop',
      async (name, defect) => {
        const proof = await proveDefect(defect);
        expect(proof.defect).toBe(name);
        expect(proof.brokenChecks).toContain(defect.breaks[0]);
        expect(proof.causes.map((cause) => cause.name)).toContain(defect.cause);
        expect(proof).toMatchObject({ caught: true, rightCause: true, rightHop: true });
      },
    );
  });
}
