// What README and DEVELOPERS say is true.
import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { Ajv2020 } from 'ajv/dist/2020.js';
import { describe, expect, it } from 'vitest';
import { allAbouts } from '../../harness/checks/abouts.ts';
import { parseScenario } from '../../sim/index.ts';
import { renewed } from '../support/generate-docs.ts';

const README = readFileSync('README.md', 'utf8');
const DEVELOPERS = readFileSync('DEVELOPERS.md', 'utf8');

/** The formatter pads tables. */
function unpadded(text: string): string {
  return text.replace(/ +/g, ' ').replace(/-{3,}/g, '---').replace(/\| /g, '|').replace(/ \|/g, '|');
}

describe('README', () => {
  it('holds what the code declares', () => {
    expect(unpadded(renewed(README))).toBe(unpadded(README));
    for (const { id } of allAbouts()) expect(README).toContain(`\`${id}\``);
  });

  it('lists every scenario there is, and none that is not', () => {
    const listed = [...README.matchAll(/\(scenarios\/([\w-]+)\.yaml\)/g)].map(([, name]) => name);
    const there = readdirSync('scenarios')
      .filter((name) => name.endsWith('.yaml'))
      .map((name) => name.replace('.yaml', ''));
    expect(new Set(listed)).toEqual(new Set(there));
  });

  it('shows a scenario that is right', () => {
    const [, text = ''] = /```yaml\n([\s\S]*?)```/.exec(README) ?? [];
    expect(parseScenario(text, 'scenarios/readme.yaml').groups).toHaveLength(1);
  });

  it.each([
    ['README.md', README],
    ['DEVELOPERS.md', DEVELOPERS],
  ])('%s names only files that are there', (_, text) => {
    const named = [...text.matchAll(/`((?:sim|harness|test|scenarios)\/[\w./-]+\.\w+)`/g)].map(
      ([, file]) => file,
    );
    expect(named.length).toBeGreaterThan(3);
    expect(named.filter((file) => file !== undefined && !existsSync(file))).toEqual([]);
  });

  it('names every npm script it tells people to run', () => {
    const { scripts } = JSON.parse(readFileSync('package.json', 'utf8')) as {
      scripts: Record<string, string>;
    };
    const named = [
      ...`${README}${DEVELOPERS}`.matchAll(/npm (?:run (?:-s )?)?(start|test|(?<=run (?:-s )?)\w+)/g),
    ];
    expect(named.length).toBeGreaterThan(5);
    for (const [, name = ''] of named) expect(Object.keys(scripts)).toContain(name);
  });
});

describe('schemas', () => {
  it.each([
    'sim/scenario/scenario.schema.json',
    'sim/payload/plain.schema.json',
    'harness/contract/contract.schema.json',
    'harness/report/result.schema.json',
  ])('%s is strict JSON Schema 2020-12', (file) => {
    const schema = JSON.parse(readFileSync(file, 'utf8')) as object;
    // `kind` is required of a union and described in its branches.
    const ajv = new Ajv2020({
      strict: true,
      strictRequired: false,
      allowUnionTypes: true,
      discriminator: true,
    });
    expect(() => ajv.compile(schema)).not.toThrow();
    expect(schema).toMatchObject({ $schema: 'https://json-schema.org/draft/2020-12/schema' });
  });
});
