// Writes the types of the raw files from their JSON Schemas: `tsx test/support/generate-types.ts`.
import { readFileSync, writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { compile } from 'json-schema-to-typescript';

const ROOT = new URL('../../', import.meta.url);

/** Schema and the file of types made from it, relative to the checkout. */
export const GENERATED: readonly { readonly schema: string; readonly types: string }[] = [
  { schema: 'sim/scenario/scenario.schema.json', types: 'sim/scenario/raw.ts' },
  { schema: 'harness/contract/contract.schema.json', types: 'harness/contract/raw.ts' },
];

/** The text of the types for a schema file. */
export async function typesOf(schemaFile: string): Promise<string> {
  const schema: unknown = JSON.parse(readFileSync(new URL(schemaFile, ROOT), 'utf8'));
  return compile(shapes(schema) as Parameters<typeof compile>[0], '', {
    additionalProperties: false,
    bannerComment: `// Made from ${schemaFile.split('/').at(-1)} by \`npm run types\`; don't edit.`,
    style: { singleQuote: true, printWidth: 110, trailingComma: 'all' },
  });
}

// Bounds would become tuples; a default beside a reference would make a copy of the type.
const LEFT_OUT = new Set(['minItems', 'maxItems', 'default', 'discriminator']);

/** The schema without what says nothing of shapes. */
function shapes(schema: unknown): unknown {
  if (Array.isArray(schema)) return schema.map(shapes);
  if (typeof schema !== 'object' || schema === null) return schema;
  return Object.fromEntries(
    Object.entries(schema)
      .filter(([key]) => !LEFT_OUT.has(key))
      .map(([key, value]) => [key, shapes(value)]),
  );
}

if (process.argv[1] === fileURLToPath(import.meta.url)) {
  for (const { schema, types } of GENERATED) writeFileSync(new URL(types, ROOT), await typesOf(schema));
}
