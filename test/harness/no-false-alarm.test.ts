// The sound pipeline is never broken, whatever the scenario, the contract and the hardship. `npm run soak` does
// two thousand cases; here are two hundred.
import fc from 'fast-check';
import { expect, it } from 'vitest';
import { anySoakCase, soak } from '../support/soak.ts';

it('200 random cases: nothing broken, nothing left undone', async () => {
  await fc.assert(
    fc.asyncProperty(anySoakCase, async (given) => {
      expect(await soak(given)).toMatchObject({ broken: [], incomplete: null });
    }),
    { seed: 20_310_303, numRuns: 200, endOnFailure: true },
  );
}, 900_000);
