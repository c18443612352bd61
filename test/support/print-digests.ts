// Prints the digests of the golden scenarios, as the Node that runs this makes them. `--write` pins them anew.
import { writeFileSync } from 'node:fs';
import { fleetEvents, readScenario, streamDigest } from '../../sim/index.ts';
import { GOLDEN } from '../sim/golden.ts';

const digests = Object.fromEntries(
  Object.keys(GOLDEN).map((name) => [
    name,
    streamDigest(fleetEvents(readScenario(`scenarios/${name}.yaml`))),
  ]),
);
console.log(JSON.stringify({ node: process.versions.node, digests }, undefined, 2));

if (process.argv.includes('--write')) {
  const lines = Object.entries(digests).map(([name, digest]) => {
    const key = /^\w+$/.test(name) ? name : `'${name}'`;
    return `  ${key}: '${digest}',\n`;
  });
  writeFileSync(
    new URL('../sim/golden.ts', import.meta.url),
    `// SHA-256 of the emission stream of each scenario under its own seed. \`npm run golden -- --write\` pins them anew.\nexport const GOLDEN: Readonly<Record<string, string>> = {\n${lines.join('')}};\n`,
  );
}
