// Writes the parts of README that are made from the code, between their marks. `npm run docs` renews them.
import { readFileSync, writeFileSync } from 'node:fs';
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

const PARTS: Readonly<Record<string, () => string>> = { checks: checksTable };

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
