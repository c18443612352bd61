// Writes the parts of README that are made from the code, between their marks. `npm run docs` renews them.
import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { allAbouts } from '../../harness/checks/abouts.ts';

const MARK = /<!-- made: (\w+) -->\n[\s\S]*?<!-- end -->/g;

function checksTable(): string {
  const rows = allAbouts().map(
    ({ id, promise, proves, cannotProve }) => `| \`${id}\` | ${promise} | ${proves} | ${cannotProve} |`,
  );
  return ['| check | promise | a held verdict proves | it cannot prove |', '|---|---|---|---|', ...rows].join(
    '\n',
  );
}

/** A broken verdict, as it is printed: the pipeline writes 0 where nothing was measured. */
function brokenVerdict(): string {
  const folder = mkdtempSync(join(tmpdir(), 'wayproof-readme-'));
  const words = 'run scenarios/antimeridian.yaml --defect no-fix-as-zero';
  const { stdout } = spawnSync(
    'node',
    ['--import', 'tsx', 'harness/cli/main.ts', ...words.split(' '), '--out', join(folder, 'run')],
    { encoding: 'utf8' },
  );
  rmSync(folder, { recursive: true });
  const lines = stdout.split('\n');
  const from = lines.findIndex((line) => /^ {2}BROKEN {2}\w+\.\w+: /.test(line));
  const to = lines.findIndex((line) => line.startsWith('  CSV '));
  if (from < 0 || to < 0) throw new Error(`the damaged run was not broken: ${stdout}`);
  return ['```text', `$ npm run -s wayproof -- ${words}`, '…', ...lines.slice(from, to - 1), '```'].join(
    '\n',
  );
}

const PARTS: Readonly<Record<string, () => string>> = { checks: checksTable, verdict: brokenVerdict };

/** The text with every marked part made anew. */
export function renewed(text: string): string {
  return text.replace(MARK, (_, name: string) => {
    const make = PARTS[name];
    if (!make) throw new Error(`README marks a part ${name} that nothing makes`);
    return `<!-- made: ${name} -->\n\n${make()}\n\n<!-- end -->`;
  });
}

if (import.meta.url === pathToFileURL(process.argv[1] ?? '').href) {
  writeFileSync('README.md', renewed(readFileSync('README.md', 'utf8')));
}
