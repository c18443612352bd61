// Ten thousand spoilt exports: every one that says something else is judged broken, every other one held.
import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { judgeExport } from '../../harness/checks/judge.ts';
import type { Contract } from '../../harness/contract/contract.ts';
import { defaultContract, parseContract } from '../../harness/contract/read-contract.ts';
import { DUE_ON_TRUST } from '../../harness/expected/due.ts';
import { randomStream } from '../../sim/random.ts';
import { corruptionOf, WAYS, type Good } from '../support/corruptions.ts';
import { saysTheSame } from '../support/export-oracle.ts';
import { cellsOf, csvBytes, idealRows } from '../support/ideal-export.ts';
import { anyDraft, scenarioOf } from '../support/scenarios.ts';
import type { Scenario } from '../../sim/index.ts';

const SEED = 'corruptions';
const CASES_EACH = 1250;
/** Judged at a time, so that waiting for files costs nothing. */
const LANES = 12;

/** Everything that the reference contract leaves at its default, set otherwise. */
const OTHERWISE = `
wayproof: contract/1
title: otherwise
columns:
  - { name: wann, field: at, as: local, zone: Europe/Dublin }
  - { name: wer, field: id }
  - { name: text, field: label }
  - { name: boot, field: boot }
  - { name: seq, field: seq }
  - { name: epoch, field: at, as: epoch-s }
  - { name: lat, field: latDeg, decimals: 7, nullAs: 'NULL' }
  - { name: lon, field: lonDeg, decimals: 4, within: 0.00005, nullAs: 'NULL' }
  - { name: kmh, field: speedMps, factor: 3.6, within: 0.01, decimals: 2, nullAs: 'NULL' }
  - { name: temp, field: airTempC, within: 0.05, nullAs: 'NULL' }
  - { name: volt, field: batteryV }
identity: [wer, boot, seq]
order: [wer, boot, { column: seq, direction: falling }]
perTracker: none
csv: { delimiter: ';', lineEnd: either, byteOrderMark: either, formulaGuard: "'" }
`;
/** No names, few columns, time alone tells readings apart. */
const BARE = `
wayproof: contract/1
title: bare
columns:
  - { name: id, field: id }
  - { name: at, field: at, as: epoch-ms }
  - { name: label, field: label }
  - { name: rsrp, field: rsrpDbm }
  - { name: hpa, field: pressurePa, factor: 0.01, within: 0.005 }
identity: [id, at]
order: [at, id]
csv: { header: false, lineEnd: lf, byteOrderMark: required }
`;

/** For counting rows. */
const SMALL = parseContract(BARE, 'bare.yaml');

const LABELS = [
  '=1+1',
  'a "quoted", one',
  'two\r\nlines',
  'Cafe\u0301',
  'Café',
  '007',
  '',
  ' x ',
  'снег 🧊',
  "'-1;",
];
const CONTRACTS: readonly Contract[] = [
  defaultContract(),
  parseContract(OTHERWISE, 'otherwise.yaml'),
  parseContract(BARE, 'bare.yaml'),
];

function scenarios(): Scenario[] {
  const quiet = [0, 3, 7].map((k) =>
    scenarioOf({
      seed: `labels ${k}`,
      lasts: '15min',
      fleet: [
        {
          name: 'crates',
          count: 3,
          labels: LABELS.slice(k, k + 3),
          motion: { kind: 'route', along: 'coast-road', speedMps: 15 },
          report: { every: '60s' },
        },
      ],
    }),
  );
  const any = fc
    .sample(anyDraft(), { seed: 20_310_303, numRuns: 80 })
    .map((draft) => scenarioOf(draft))
    .filter((scenario) => {
      const { length } = idealRows(scenario, SMALL);
      const ticks = scenario.groups.reduce(
        (sum, { count, report }) => sum + (count * 7200e3) / report.everyMs,
        0,
      );
      return length >= 40 && ticks <= 150;
    });
  return [...quiet, ...any.slice(0, 2)];
}

describe('a corrupted export', () => {
  let folder = '';
  beforeAll(async () => {
    folder = await mkdtemp(join(tmpdir(), 'wayproof-corrupt-'));
  });
  afterAll(() => rm(folder, { recursive: true, force: true }));

  const tried = new Set<string>();
  const fleets = scenarios();
  const plan = [
    ...fleets.map((scenario, k) => ({ scenario, contract: CONTRACTS[0], name: `scenario ${k}, reference` })),
    { scenario: fleets[0], contract: CONTRACTS[1], name: 'scenario 0, otherwise' },
    { scenario: fleets[4], contract: CONTRACTS[1], name: 'scenario 4, otherwise' },
    { scenario: fleets[2], contract: CONTRACTS[2], name: 'scenario 2, bare' },
  ];

  it.each(plan)(
    '$name: is broken where it says something else, and held where it does not',
    async ({ scenario, contract, name }) => {
      if (!scenario || !contract) throw new Error('fewer scenarios than planned');
      const rows = idealRows(scenario, contract);
      const good: Good = { contract, rows, bytes: csvBytes(contract, cellsOf(rows)) };
      const judge = async (bytes: Buffer, lane: number) => {
        const file = join(folder, `${name}, ${lane}.csv`);
        await writeFile(file, bytes);
        const { checks } = await judgeExport({
          scenario,
          contract,
          dueOf: DUE_ON_TRUST,
          whole: { file, fromMs: 0, toMs: 4e12 },
          again: undefined,
          windows: [],
        });
        return checks.filter(({ outcome }) => outcome === 'broken').map(({ id }) => id);
      };
      expect(await judge(good.bytes, 0)).toEqual([]);

      const wrong: unknown[] = [];
      let kept = 0;
      const lane = async (first: number) => {
        for (let k = first; k < CASES_EACH; k += LANES) {
          const corruption = corruptionOf(good, randomStream(SEED, name, k));
          const { meaning, bytes } = corruption;
          const same = saysTheSame(contract, rows, bytes);
          const broken = await judge(bytes, first);
          tried.add(corruption.name);
          if (same) kept += 1;
          // The way it was made and the oracle have to agree too: neither is taken on trust.
          const agrees = meaning === 'ask' || (meaning === 'kept') === same;
          if (agrees && same === (broken.length === 0)) continue;
          wrong.push({
            seed: [SEED, name, k],
            way: corruption.name,
            what: corruption.what,
            meaning,
            same,
            broken,
          });
        }
      };
      await Promise.all(Array.from({ length: LANES }, (_, first) => lane(first)));
      expect(wrong).toEqual([]);
      expect(kept).toBeGreaterThan(10);
    },
    300_000,
  );

  it('was tried in every way', () => {
    expect([...tried].toSorted()).toEqual(WAYS.toSorted());
  });
});
