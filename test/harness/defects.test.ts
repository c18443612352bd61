// The list of defects, and one of them in a process of its own.
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { readContract } from '../../harness/contract/read-contract.ts';
import { DEFECTS, defectNamed } from '../../harness/defects/index.ts';
import { HostedPipeline } from '../../harness/pipeline/host.ts';
import { runFolder } from '../../harness/run/folder.ts';
import { judgeRun } from '../../harness/run/judge-run.ts';
import { collectEvidence, DEFAULT_CONTRACT_FILE } from '../../harness/run/run-scenario.ts';
import { BadInput, readScenario } from '../../sim/index.ts';

describe('the list of defects', () => {
  it('has at least eighty, each name once', () => {
    expect(DEFECTS.length).toBeGreaterThanOrEqual(80);
    expect(new Set(DEFECTS.map(({ name }) => name)).size).toBe(DEFECTS.length);
  });

  it.each(DEFECTS.map((defect) => [defect.name, defect] as const))('%s says what it is', (name, defect) => {
    expect(name).toMatch(/^[a-z0-9]+(-[a-z0-9]+)*$/);
    expect(defect.happens).toMatch(/^[A-Z].*\.$/);
    expect(defect.cause).toMatch(/^[a-z0-9]+([-^][a-z0-9]+)*$/);
    for (const check of defect.breaks)
      expect(check).toMatch(/^(ingest|ordering|values|window|csv)\.[a-z-]+$/);
    expect(Object.keys(defect.damage())).not.toEqual([]);
  });

  it('makes new damage for each life of a pipeline', () => {
    for (const { damage } of DEFECTS.filter(({ stage }) => stage === 'consumer')) {
      const [one, other] = [damage(), damage()];
      expect(Object.keys(one)).toEqual(Object.keys(other));
    }
  });

  it('finds a defect by name, and suggests the nearest on a mistake', () => {
    expect(defectNamed('single-precision').cause).toBe('single-precision');
    expect(() => defectNamed('singel-precision')).toThrow(BadInput);
    expect(() => defectNamed('singel-precision')).toThrow('did you mean single-precision?');
  });
});

describe('a defect in a process of its own', () => {
  let path = '';
  beforeAll(() => {
    path = mkdtempSync(join(tmpdir(), 'defect-process-'));
  });
  afterAll(() => rmSync(path, { recursive: true, force: true }));

  it('damages what comes out', async () => {
    const scenarioFile = 'scenarios/proving-ground.yaml';
    const folder = runFolder(path);
    const record = await collectEvidence({
      scenario: readScenario(scenarioFile),
      scenarioFile,
      contract: readContract(DEFAULT_CONTRACT_FILE),
      contractFile: DEFAULT_CONTRACT_FILE,
      folder,
      pace: 'full',
      port: 0,
      signal: new AbortController().signal,
      onProgress: () => {},
      defect: 'whole-seconds',
      crash: true,
      startPipeline: (options) => HostedPipeline.start(options, ['--import', 'tsx']),
    });
    expect(record.incomplete).toBeNull();
    const { verdict } = await judgeRun(folder);
    const broken = verdict.checks.filter(({ outcome }) => outcome === 'broken').map(({ id }) => id);
    expect(broken).toContain('values.time');
    expect(broken).not.toContain('ingest.complete');
  });
});
