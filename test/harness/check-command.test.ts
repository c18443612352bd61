// wayproof check and validate as a user meets them.
import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { check } from '../../harness/cli/check.ts';
import { BadInput } from '../../sim/index.ts';

const folder = mkdtempSync(join(tmpdir(), 'wayproof-check-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

function wayproof(...args: readonly string[]): { code: number | null; out: string; err: string } {
  const { status, stdout, stderr } = spawnSync('node', ['--import', 'tsx', 'harness/cli/main.ts', ...args], {
    encoding: 'utf8',
    // A pipe that is waited for must fail the test, not hang it.
    timeout: 60_000,
  });
  return { code: status, out: stdout, err: stderr };
}

const scenario = join(folder, 'short.yaml');
const run = join(folder, 'run');
const exported = join(run, 'export.csv');
const pipe = join(folder, 'pipe');

beforeAll(() => {
  writeFileSync(
    scenario,
    `wayproof: scenario/1
title: A test
shows: What a test needs.
lasts: 20min
fleet:
  - { name: crates, count: 2, motion: { kind: parked, at: ostrel-quay } }
`,
  );
  const made = [
    wayproof('run', scenario, '--out', run, '--quiet').code,
    spawnSync('sh', ['-c', 'mkfifo "$0"', pipe]).status,
  ];
  if (made.some((code) => code !== 0)) throw new Error(`the run or the pipe was not made: ${made.join()}`);
}, 60_000);

describe('wayproof check --export', () => {
  it('tells the verdict on one line with --quiet', () => {
    const ran = wayproof('check', scenario, '--export', exported, '--quiet');
    expect(ran.code).toBe(0);
    expect(ran.out).toMatch(/^held: What left the trackers is what stands in the CSV: \d+ rows, .*\n$/);
  });

  it('shows the digest, and a command that does the same again', () => {
    const ran = wayproof('check', scenario, '--export', exported, '--seed', 'a b');
    const [, again = ''] = /again {6}npm run -s wayproof -- (.*)\n/.exec(ran.out) ?? [];
    expect(again).toBe(`check ${scenario} --export ${exported} --seed 'a b'`);
    expect(ran.out).toMatch(/digest {5}[0-9a-f]{16}…/);
    expect(ran.out).not.toContain('result.json');
  });

  it('lets no cell command the terminal', () => {
    const hostile = join(folder, 'hostile.csv');
    const text = readFileSync(exported, 'utf8');
    writeFileSync(hostile, text.replace(/\r\n\d{15},/, '\r\n\u001b]0;owned\u0007,'));
    const ran = wayproof('check', scenario, '--export', hostile);
    expect(ran.code).toBe(1);
    expect(ran.out).not.toContain('\u001b');
    expect(ran.out).toContain('\\u001b]0;owned\\u0007');
  });
});

describe('wayproof check of a run folder', () => {
  it('points to no file that it did not write', () => {
    const { code, out } = wayproof('check', run);
    expect(code).toBe(0);
    expect(out).toContain('JSON       add --json');
    expect(out).not.toContain('result.json');
  });

  it.each(['--seed', '--contract', '--export'])('refuses %s', async (option) => {
    await expect(check.run([run, option, 'x'])).rejects.toThrow(new RegExp(`^${option}: .*run folder`));
  });
});

describe('a file that is not a regular one', () => {
  it.each([
    ['an export that is a pipe', ['check', scenario, '--export', pipe]],
    ['a scenario that is a pipe', ['validate', pipe]],
  ])('%s is not waited for', (_, args) => {
    const { code, err } = wayproof(...args);
    expect(code).toBe(2);
    expect(err).toMatch(/^[^\n]*found a pipe, socket or device[^\n]*\n$/);
  });

  it.each([
    ['an export that is a device', ['--export', '/dev/zero'], 'a pipe, socket or device'],
    ['an export that is a folder', ['--export', folder], 'a folder'],
    ['an export inside a file', ['--export', join(scenario, 'x')], 'nothing there'],
    ['a contract', ['--export', exported, '--contract', '/dev/zero'], 'a pipe, socket or device'],
  ])('%s is bad input', async (_, args, words) => {
    const refusal: unknown = await check.run([scenario, ...args]).catch((error: unknown) => error);
    expect(refusal).toBeInstanceOf(BadInput);
    expect(String(refusal)).toContain(`found ${words}`);
  });
});

describe('wayproof validate', () => {
  it('tells a text that is no scenario in a few lines', () => {
    const { code, err } = wayproof('validate', 'sim/errors.ts');
    expect(code).toBe(2);
    expect(err).toMatch(/… and \d+ more mistakes\n$/);
    expect(err.trim().split('\n')).toHaveLength(6);
  });
});
