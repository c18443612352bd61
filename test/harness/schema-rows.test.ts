// What schema.rows says of a cell of the wrong shape.
import { describe, expect, it } from 'vitest';
import { defaultContract } from '../../harness/contract/read-contract.ts';
import { cellsOf, csvBytes, idealRows, judged } from '../support/ideal-export.ts';
import { scenarioOf } from '../support/scenarios.ts';

const contract = defaultContract();
const scenario = scenarioOf({
  seed: 'shape',
  lasts: '3min',
  fleet: [
    { name: 'crates', count: 1, motion: { kind: 'parked', at: 'ostrel-quay' }, report: { every: '60s' } },
  ],
});
const rows = cellsOf(idealRows(scenario, contract));
const first = rows[0] ?? [];
const index = (field: string) => contract.columns.findIndex((column) => column.field === field);

async function toldOf(cells: readonly string[]) {
  const results = await judged({ scenario, contract, whole: csvBytes(contract, rows.with(0, [...cells])) });
  return results
    .get('schema.rows')
    ?.findings.map(({ examples: [example] }) => [example?.expected, example?.found]);
}

describe('schema.rows', () => {
  it.each([
    ['id', 'x', '15 digits'],
    ['seq', '1e3', 'a number in decimal digits'],
    ['at', 'noon', 'an RFC 3339 time'],
    ['fix', '3D', 'none, last, 2d or 3d'],
    ['clock', 'sun', 'unset, network or gnss'],
    ['latDeg', 'NaN', 'a number in decimal digits, or an empty cell where nothing is'],
  ])('a %s of %j: expected %s', async (field, found, expected) => {
    expect(await toldOf(first.with(index(field), found))).toEqual([[expected, found]]);
  });

  it('a cell too few, and one too many', async () => {
    const last = contract.columns.at(-1)?.field;
    expect(last).toBeDefined();
    const [told] = (await toldOf(first.slice(0, -1))) ?? [];
    expect(told?.[0]).not.toContain('must');
    expect(told?.[1]).toBe('no cell');
    expect(await toldOf([...first, 'more'])).toEqual([['no further cell', 'more']]);
  });
});
