// Digests of everything that scenarios send. A change here changes every user's expected data: it needs a line in
// CHANGELOG. `npm run golden` prints the digests as they are now.
import { execFileSync } from 'node:child_process';
import { describe, expect, it } from 'vitest';
import { fleetEvents, readScenario, streamDigest } from '../../sim/index.ts';
import { GOLDEN } from './golden.ts';

const SCRIPT = 'test/support/print-digests.ts';

describe('golden digests', () => {
  it.each(Object.entries(GOLDEN))('%s', (name, digest) => {
    expect(streamDigest(fleetEvents(readScenario(`scenarios/${name}.yaml`)))).toBe(digest);
  });

  it('are the same on the newest Node that the registry carries', () => {
    const printed = execFileSync('npx', ['-y', '-p', 'node@latest', 'node', '--import', 'tsx', SCRIPT], {
      encoding: 'utf8',
      timeout: 240_000,
    });
    const { node, digests } = JSON.parse(printed) as { node: string; digests: Record<string, string> };
    expect(Number(node.split('.')[0])).toBeGreaterThanOrEqual(Number(process.versions.node.split('.')[0]));
    expect(digests).toEqual(GOLDEN);
  }, 300_000);
});
