// The main job end to end, as a user runs it: the command line, real sockets, a real SQL file.
import { spawn, spawnSync } from 'node:child_process';
import { once } from 'node:events';
import { cpSync, existsSync, mkdtempSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Ajv2020 } from 'ajv/dist/2020.js';
import { afterAll, describe, expect, it, vi } from 'vitest';
import type { Result } from '../../harness/report/record.ts';

const folder = mkdtempSync(join(tmpdir(), 'wayproof-main-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const isResult = new Ajv2020({ strict: true, allowUnionTypes: true }).compile(
  JSON.parse(readFileSync('harness/report/result.schema.json', 'utf8')) as object,
);

interface Ran {
  readonly code: number | null;
  readonly out: string;
  readonly err: string;
}

function wayproof(...args: readonly string[]): Ran {
  const { status, stdout, stderr } = spawnSync('node', ['--import', 'tsx', 'harness/cli/main.ts', ...args], {
    encoding: 'utf8',
    maxBuffer: 64 * 1024 * 1024,
  });
  return { code: status, out: stdout, err: stderr };
}

function inFolder(name: string, text: string): string {
  const file = join(folder, name);
  writeFileSync(file, text);
  return file;
}

function scenarioFile(name: string, more: string): string {
  return inFolder(name, `wayproof: scenario/1\ntitle: A test\nshows: What a test needs.\n${more}`);
}

const SHORT = scenarioFile(
  'short.yaml',
  `lasts: 1h
fleet:
  - { name: crates, count: 3, labels: ['a "b", {n}', '=1+1', 'zwei\\nZeilen'], motion: { kind: parked, at: ostrel-quay } }
faults:
  - { kind: no-coverage, on: 'crates#2', from: 20min, until: 40min }
`,
);

function expectOneLine(ran: Ran, ...words: readonly string[]): void {
  expect(ran.err.trim().split('\n')).toHaveLength(1);
  for (const word of words) expect(ran.err).toContain(word);
  expect(ran.err).not.toMatch(/\n\s+at /);
}

describe('wayproof run', () => {
  it.each(['every-fault', 'awkward-labels', 'all-payloads', 'antimeridian', 'from-the-box', 'wrong-image'])(
    'holds on %s',
    (name) => {
      const ran = wayproof('run', `scenarios/${name}.yaml`, '--out', join(folder, name), '--json');
      const result = JSON.parse(ran.out) as Result;
      expect(isResult(result) ? [] : isResult.errors).toEqual([]);
      const notHeld = result.verdict.checks.filter((check) => check.outcome !== 'held');
      expect(notHeld.filter((check) => check.outcome === 'broken')).toEqual([]);
      expect(ran.code).toBe(0);
      expect(result.incomplete).toBeNull();
      expect(result.flow.rows).toBe(result.flow.readingsSent);
      expect(existsSync(result.files.csv)).toBe(true);
    },
  );

  it('says where everything lies and how to run it again, and its evidence can be judged again', () => {
    const out = join(folder, 'told');
    const ran = wayproof('run', SHORT, '--seed', 'a b', '--out', out);
    expect(ran.code).toBe(0);
    expect(ran.out).toContain('VERDICT: held');
    expect(ran.out).toContain(join(out, 'export.csv'));
    expect(ran.out).toContain(join(out, 'result.json'));
    expect(ran.out).toContain(`-- run ${SHORT} --seed 'a b'`);
    expect(ran.err).toBe('');
    const again = wayproof('check', out, '--quiet');
    expect(again.out).toMatch(/^held: What left the trackers is what stands in the CSV/);
    expect(again.code).toBe(0);
  });

  it('makes the same export from the same seed', () => {
    const [one, two] = ['one', 'two'].map((name) => {
      expect(wayproof('run', SHORT, '--out', join(folder, name), '--quiet').code).toBe(0);
      return readFileSync(join(folder, name, 'export.csv'), 'utf8');
    });
    expect(one).toBe(two);
  });
});

describe('an interrupted run', () => {
  it('stops cleanly, says what was proven so far, and is never held', async () => {
    const out = join(folder, 'cut');
    const child = spawn(
      'node',
      [
        '--import',
        'tsx',
        'harness/cli/main.ts',
        'run',
        'scenarios/two-hundred-trackers.yaml',
        '--out',
        out,
        '--json',
      ],
      { detached: true, stdio: ['ignore', 'pipe', 'pipe'] },
    );
    const ended = once(child, 'close');
    let text = '';
    child.stdout.on('data', (chunk: Buffer) => (text += chunk.toString()));
    // Once the broker has taken something, Ctrl-C goes to the whole process group, as a terminal sends it.
    await vi.waitFor(() => expect(statSync(join(out, 'tap.ndjson')).size).toBeGreaterThan(200_000), 60_000);
    process.kill(-(child.pid ?? 0), 'SIGINT');
    const [code] = await ended;
    const result = JSON.parse(text) as Result;
    expect(code).toBe(3);
    expect(result.incomplete).toContain('interrupted');
    expect(result.verdict.outcome).toBe('not-seen');
    expect(result.flow.rows).toBeGreaterThan(0);
    expect(result.verdict.checks.filter((check) => check.outcome === 'broken')).toEqual([]);
  }, 180_000);
});

describe('evidence that was changed or cut', () => {
  const whole = join(folder, 'whole');

  function changed(name: string, file: string, change: (text: string) => string): Ran {
    if (!existsSync(whole)) expect(wayproof('run', SHORT, '--out', whole, '--quiet').code).toBe(0);
    const copy = join(folder, name);
    cpSync(whole, copy, { recursive: true });
    writeFileSync(join(copy, file), change(readFileSync(join(copy, file), 'utf8')));
    return wayproof('check', copy, '--json');
  }

  it.each([
    ['an empty tap', 'tap.ndjson', () => ''],
    [
      'a tap without some of its lines',
      'tap.ndjson',
      (text: string) => text.replace(/(?:.*\n){11}(?=.*closed)/, ''),
    ],
    ['an empty ledger', 'ledger.ndjson', () => ''],
    ['a ledger without its last line', 'ledger.ndjson', (text: string) => text.replace(/.*closed.*\n/, '')],
  ])('%s: never held, and nobody is accused', (name, file, change) => {
    const ran = changed(name, file, change);
    const { verdict, incomplete } = JSON.parse(ran.out) as Result;
    expect(verdict.checks.filter((check) => check.outcome === 'broken')).toEqual([]);
    expect(verdict.outcome).toBe('not-seen');
    expect(incomplete).toContain('cut short');
    expect(ran.code).toBe(3);
  });

  it.each([
    ['another digest', 'run.json', (text: string) => text.replace(/"digest": "../, '"digest": "zz')],
    ['another scenario', 'scenario.yaml', (text: string) => text.replace('count: 3', 'count: 2')],
    ['no record', 'run.json', () => '{}'],
  ])('%s: bad input', (name, file, change) => {
    const ran = changed(name, file, change);
    expect(ran.code).toBe(2);
    expectOneLine(ran, name);
  });

  it('one cell changed: broken, and the cell is named', () => {
    const ran = changed('one cell', 'export.csv', (text) =>
      text.replace(/(\r\n(?:[^,]*,){11})[^,]+/, '$1999'),
    );
    const { verdict } = JSON.parse(ran.out) as Result;
    expect(
      verdict.checks.find((check) => check.id.startsWith('values') && check.outcome === 'broken'),
    ).toBeDefined();
    expect(ran.code).toBe(1);
  });
});

describe('wayproof check', () => {
  const exported = join(folder, 'exported');

  it('holds on an export alone, and says what it took on trust', () => {
    expect(wayproof('run', SHORT, '--out', exported, '--quiet').code).toBe(0);
    const ran = wayproof('check', SHORT, '--export', join(exported, 'export.csv'));
    expect(ran.code).toBe(0);
    expect(ran.out).toContain('every message the trackers sent is taken as accepted');
  });

  it('breaks on an export from another seed', () => {
    const ran = wayproof(
      'check',
      SHORT,
      '--export',
      join(exported, 'export.csv'),
      '--seed',
      'other',
      '--json',
    );
    expect(ran.code).toBe(1);
    expect((JSON.parse(ran.out) as { verdict: Result['verdict'] }).verdict.outcome).toBe('broken');
  });

  it('breaks on a file cut in the middle of a row', () => {
    const text = readFileSync(join(exported, 'export.csv'), 'utf8');
    const cut = inFolder('cut.csv', text.slice(0, Math.floor(text.length / 2)));
    const ran = wayproof('check', SHORT, '--export', cut, '--json');
    expect(ran.code).toBe(1);
    const { checks } = (JSON.parse(ran.out) as { verdict: Result['verdict'] }).verdict;
    expect(checks.find((check) => check.id === 'csv.form')?.outcome).toBe('broken');
    expect(checks.find((check) => check.id === 'ingest.complete')?.outcome).toBe('broken');
  });

  it('breaks on a file that is no CSV', () => {
    const ran = wayproof('check', SHORT, '--export', inFolder('not.csv', '\u0000\u0001"x"y\nPK'), '--quiet');
    expect(ran.code).toBe(1);
  });
});

describe('bad input', () => {
  it('leaves nothing behind and exits 2: malformed YAML', () => {
    const out = join(folder, 'never');
    const ran = wayproof('run', inFolder('bad.yaml', 'wayproof: scenario/1\nfleet: [\n'), '--out', out);
    expect(ran.code).toBe(2);
    expect(existsSync(out)).toBe(false);
    expect(ran.err).toMatch(/bad\.yaml:\d+:\d+/);
  });

  it('an unknown key, with the nearest word', () => {
    const file = scenarioFile(
      'key.yaml',
      'lasts: 1h\nfleat: []\nfleet:\n  - { name: a, count: 1, motion: { kind: parked, at: ostrel-quay } }\n',
    );
    const ran = wayproof('validate', file);
    expect(ran.code).toBe(2);
    expectOneLine(ran, 'key.yaml:5', '/fleat', 'fleet');
  });

  it.each([
    ['latitude 91', 'fleet:\n  - { name: a, count: 1, motion: { kind: parked, at: [0, 91] } }\n'],
    ['an empty fleet', 'fleet: []\n'],
    [
      'a negative period',
      'fleet:\n  - { name: a, count: 1, report: { every: -1s }, motion: { kind: parked, at: ostrel-quay } }\n',
    ],
  ])('%s', (_, more) => {
    const ran = wayproof('run', scenarioFile('impossible.yaml', `lasts: 1h\n${more}`));
    expect(ran.code).toBe(2);
    expect(ran.err).toMatch(/impossible\.yaml:\d+:\d+: \/fleet/);
  });

  it('a port in use', async () => {
    const server = createServer();
    await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
    const address = server.address();
    const port = typeof address === 'object' && address ? address.port : 0;
    const ran = wayproof('run', SHORT, '--port', String(port), '--out', join(folder, 'port'));
    server.close();
    expect(ran.code).toBe(2);
    expectOneLine(ran, String(port));
    expect(existsSync(join(folder, 'port'))).toBe(false);
  });

  it('a folder that cannot be written', () => {
    const ran = wayproof('run', SHORT, '--out', '/proc/wayproof');
    expect(ran.code).toBe(2);
    expectOneLine(ran, '/proc/wayproof');
  });

  it('a contract that names a column that is not there', () => {
    const text = readFileSync('scenarios/contracts/reference.yaml', 'utf8').replace(
      'order: [measured_at,',
      'order: [mesured_at,',
    );
    const ran = wayproof('check', SHORT, '--export', SHORT, '--contract', inFolder('contract.yaml', text));
    expect(ran.code).toBe(2);
    expectOneLine(ran, '/order/0', 'measured_at');
  });

  it.each([
    [['rum'], 'run'],
    [['run'], 'scenario'],
    [['run', SHORT, '--sed', 'x'], '--seed'],
    [['check', join(folder, 'nowhere')], 'nowhere'],
    [['check', SHORT, '--export', join(folder, 'nowhere.csv')], 'nowhere.csv'],
    [['stream', SHORT, '--broker', 'mqtt://192.0.2.1'], 'loopback'],
  ])('%j', (args, word) => {
    const ran = wayproof(...args);
    expect(ran.code).toBe(2);
    expectOneLine(ran, word);
  });
});
