// `npm test`: what the tests need from Debian, then types, lint, format, unused code, and every test.
// Ends with the plain line `N passed, N failed`, in which each step before the tests counts as one.
import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

/** Debian packages that tests need, each with the program that shows it is there. */
const FROM_DEBIAN: readonly { readonly program: string; readonly pkg: string }[] = [
  { program: 'python3', pkg: 'python3' },
];

const STEPS: readonly { readonly name: string; readonly command: readonly string[] }[] = [
  { name: 'types', command: ['npm', 'run', '-s', 'types'] },
  { name: 'lint', command: ['npm', 'run', '-s', 'lint'] },
  { name: 'format', command: ['npm', 'run', '-s', 'format:check'] },
  { name: 'unused', command: ['npm', 'run', '-s', 'unused'] },
];

interface TestCounts {
  readonly numPassedTests: number;
  readonly numFailedTests: number;
  readonly numPendingTests: number;
  readonly numFailedTestSuites: number;
}

function run(command: readonly string[], env: Readonly<Record<string, string>> = {}): boolean {
  const [program, ...args] = command;
  if (program === undefined) throw new Error('a command has a program');
  const { status } = spawnSync(program, args, { stdio: 'inherit', env: { ...process.env, ...env } });
  return status === 0;
}

function installFromDebian(): void {
  const missing = FROM_DEBIAN.filter(
    ({ program }) => spawnSync(program, ['--version'], { stdio: 'ignore' }).error !== undefined,
  ).map(({ pkg }) => pkg);
  if (missing.length === 0) return;
  if (process.getuid?.() !== 0) {
    console.log(
      `missing from Debian: ${missing.join(' ')} (not root, so not installed; tests that need them say so)`,
    );
    return;
  }
  run(['apt-get', 'update', '-qq']);
  run(['apt-get', 'install', '-y', '-qq', '--no-install-recommends', ...missing], {
    DEBIAN_FRONTEND: 'noninteractive',
  });
}

function runTests(): TestCounts {
  const folder = mkdtempSync(join(tmpdir(), 'wayproof-tests-'));
  const report = join(folder, 'tests.json');
  try {
    const clean = run([
      'npx',
      'vitest',
      'run',
      '--config',
      'test/vitest.config.ts',
      '--root',
      '.',
      '--reporter=default',
      '--reporter=json',
      `--outputFile.json=${report}`,
    ]);
    const counts = JSON.parse(readFileSync(report, 'utf8')) as TestCounts;
    // A file that fails to load, or an error outside of every test, has no failed test of its own.
    const hidden = clean || counts.numFailedTests > 0 ? 0 : Math.max(1, counts.numFailedTestSuites);
    return { ...counts, numFailedTests: counts.numFailedTests + hidden };
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

installFromDebian();
const failedSteps = STEPS.filter(({ name, command }) => {
  const passed = run(command);
  console.log(`${passed ? 'passed' : 'FAILED'}: ${name}`);
  return !passed;
});
const tests = runTests();
const passed = tests.numPassedTests + STEPS.length - failedSteps.length;
const failed = tests.numFailedTests + failedSteps.length;
const skipped = tests.numPendingTests === 0 ? '' : `, ${tests.numPendingTests} skipped`;
console.log(`\n${passed} passed, ${failed} failed${skipped}`);
process.exitCode = failed === 0 && tests.numPassedTests > 0 ? 0 : 1;
