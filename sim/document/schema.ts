// JSON Schema 2020-12 to mistakes in words.
import { Ajv2020, type AnySchemaObject, type ErrorObject } from 'ajv/dist/2020.js';
import type { SourceDocument } from './document.ts';
import type { Mistakes } from './mistakes.ts';
import { nearestWord } from './nearest.ts';
import { below } from './pointer.ts';
import { describe, oneOf, quoted } from './words.ts';

/** Notes every breach of the schema by a document. */
export type SchemaCheck = (document: SourceDocument, mistakes: Mistakes) => void;

/** Compiles a JSON Schema; a schema that is itself wrong is a fault of the program and throws. */
export function schemaCheck(schema: AnySchemaObject): SchemaCheck {
  const ajv = new Ajv2020({
    strict: true,
    // `kind` is required of a union and described in its branches.
    strictRequired: false,
    allowUnionTypes: true,
    discriminator: true,
    allErrors: true,
    verbose: true,
  });
  const validate = ajv.compile(schema);
  return (document, mistakes) => {
    if (validate(document.value)) return;
    for (const error of validate.errors ?? []) {
      if (mistakes.full) return;
      note(error, schema, mistakes);
    }
  };
}

function note(error: ErrorObject, root: AnySchemaObject, mistakes: Mistakes): void {
  const { instancePath: pointer, keyword, params, parentSchema, data } = error;
  const found = describe(data);
  switch (keyword) {
    case 'additionalProperties': {
      const key = String(params['additionalProperty']);
      noteUnknownKey(below(pointer, key), key, Object.keys(parentSchema?.['properties'] ?? {}), mistakes);
      return;
    }
    case 'required': {
      const key = String(params['missingProperty']);
      mistakes.add(pointer, `the key ${key}`, 'none', `add ${key}`);
      return;
    }
    case 'discriminator': {
      const tag = String(params['tag']);
      const value: unknown = params['tagValue'];
      // A missing tag is already told by `required`.
      if (value !== undefined)
        noteWord(below(pointer, tag), value, tagWords(parentSchema, tag, root), mistakes);
      return;
    }
    case 'enum':
      noteWord(pointer, data, params['allowedValues'] as readonly (string | number)[], mistakes);
      return;
    case 'const':
      mistakes.add(pointer, String(params['allowedValue']), found, `write ${String(params['allowedValue'])}`);
      return;
    case 'type':
      mistakes.add(pointer, typeWords(parentSchema, params['type']), found, typeMend(parentSchema, data));
      return;
    case 'pattern':
      mistakes.add(pointer, String(parentSchema?.['description']), found, 'write it in this form');
      return;
    default:
      noteLimit(error, found, mistakes);
  }
}

function noteUnknownKey(pointer: string, key: string, known: readonly string[], mistakes: Mistakes): void {
  const near = nearestWord(key, known);
  const mend = near === undefined ? 'leave it out' : `write ${near}`;
  mistakes.addKey(pointer, oneOf(known), `the key ${quoted(key)}`, mend);
}

/** Notes a word that isn't one of those known, with the nearest one. */
export function noteWord(
  pointer: string,
  value: unknown,
  known: readonly (string | number)[],
  mistakes: Mistakes,
): void {
  const near = typeof value === 'string' ? nearestWord(value, known.map(String)) : undefined;
  const mend = near === undefined ? 'choose one that exists' : `write ${near}`;
  mistakes.add(pointer, oneOf(known), describe(value), mend);
}

function tagWords(union: AnySchemaObject | undefined, tag: string, root: AnySchemaObject): readonly string[] {
  const branches = (union?.['oneOf'] ?? []) as readonly { $ref: string }[];
  return branches.flatMap(({ $ref }) => {
    const branch = root['$defs']?.[$ref.split('/').at(-1) ?? ''];
    const property = branch?.properties?.[tag];
    return (property?.enum ?? [property?.const]) as readonly string[];
  });
}

const TYPE_WORDS: Readonly<Record<string, string>> = {
  string: 'text',
  integer: 'a whole number',
  number: 'a number',
  boolean: 'true or false',
  array: 'a list',
  object: 'a mapping',
};

function typeWords(schema: AnySchemaObject | undefined, type: unknown): string {
  if (schema?.['pattern'] !== undefined) return String(schema['description']);
  return [type]
    .flat()
    .map((t) => TYPE_WORDS[String(t)] ?? String(t))
    .join(' or ');
}

function typeMend(schema: AnySchemaObject | undefined, data: unknown): string {
  if (schema?.['pattern'] !== undefined) {
    return typeof data === 'number' ? 'write it in this form, with its unit' : 'write it in this form';
  }
  const takesText = [schema?.['type']].flat().includes('string');
  if (takesText && (typeof data === 'number' || typeof data === 'boolean')) return 'put it in quotes';
  if (typeof data === 'string' && /^[-+]?[0-9.]+(e[-+]?[0-9]+)?$/i.test(data)) return 'take the quotes off';
  return `write ${typeWords(schema, schema?.['type'])}`;
}

const LIMIT_WORDS: Readonly<Record<string, (limit: string) => string>> = {
  minimum: (n) => `a number of at least ${n}`,
  maximum: (n) => `a number of at most ${n}`,
  exclusiveMinimum: (n) => `a number above ${n}`,
  exclusiveMaximum: (n) => `a number below ${n}`,
  minItems: (n) => `a list of at least ${n}`,
  maxItems: (n) => `a list of at most ${n}`,
  minLength: (n) => `text of at least ${n} characters`,
  maxLength: (n) => `text of at most ${n} characters`,
};

function noteLimit(error: ErrorObject, found: string, mistakes: Mistakes): void {
  const words = LIMIT_WORDS[error.keyword];
  if (words)
    mistakes.add(error.instancePath, words(String(error.params['limit'])), found, 'stay within the limit');
  else mistakes.add(error.instancePath, error.message ?? error.keyword, found, 'correct the value');
}
