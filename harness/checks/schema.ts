// Rows against a JSON Schema (2020-12) made from the contract.
import { Ajv2020, type ValidateFunction } from 'ajv/dist/2020.js';
import type { Column, Contract } from '../contract/contract.ts';
import { Collector } from '../verdict/collector.ts';
import type { CheckResult } from '../verdict/verdict.ts';
import { exampleOfRow, result, type Check, type CheckAbout, type Row } from './check.ts';

/** The schema that every row of an export under this contract must satisfy; cells are strings. */
export function rowSchema(contract: Contract): object {
  return {
    $schema: 'https://json-schema.org/draft/2020-12/schema',
    $id: 'urn:wayproof:row:1',
    title: contract.title,
    type: 'object',
    additionalProperties: false,
    required: contract.columns.map((column) => column.name),
    properties: Object.fromEntries(contract.columns.map((column) => [column.name, cellSchema(column)])),
  };
}

const RFC3339_PATTERN =
  '^\\d{4}-(0[1-9]|1[0-2])-(0[1-9]|[12]\\d|3[01])T([01]\\d|2[0-3]):[0-5]\\d:[0-5]\\d(\\.\\d+)?(Z|[+-]\\d\\d:\\d\\d)$';

function cellSchema(column: Column): object {
  const schema = { type: 'string', ...patternOf(column) };
  if (column.nullAs === null) return schema;
  return { anyOf: [{ type: 'string', const: column.nullAs }, schema] };
}

function patternOf({ field, form }: Column): { pattern?: string } {
  if (form.kind === 'number') return { pattern: '^-?(0|[1-9]\\d*)(\\.\\d+)?$' };
  if (form.kind === 'time') {
    if (form.as === 'rfc3339') return { pattern: RFC3339_PATTERN };
    if (form.as === 'local') return { pattern: '^\\d{4}-\\d\\d-\\d\\d[ T]\\d\\d:\\d\\d:\\d\\d(\\.\\d+)?$' };
    return { pattern: '^-?\\d+(\\.\\d+)?$' };
  }
  if (field === 'id') return { pattern: '^\\d{15}$' };
  if (field === 'clock') return { pattern: '^(unset|network|gnss)$' };
  if (field === 'fix') return { pattern: '^(none|last|2d|3d)$' };
  return {};
}

/** The promised shape of a cell, for people. */
function shapeOf(column: Column): string {
  const { nullAs } = column;
  if (nullAs === null) return presentShapeOf(column);
  return `${presentShapeOf(column)}, or ${nullAs === '' ? 'an empty cell' : nullAs} where nothing is`;
}

function presentShapeOf({ field, form }: Column): string {
  if (form.kind === 'number') return 'a number in decimal digits';
  if (form.kind === 'time') {
    if (form.as === 'rfc3339') return 'an RFC 3339 time';
    if (form.as === 'local') return 'a local time YYYY-MM-DD HH:MM:SS';
    return form.as === 'epoch-ms' ? 'milliseconds since 1970' : 'seconds since 1970';
  }
  if (field === 'id') return '15 digits';
  if (field === 'clock') return 'unset, network or gnss';
  if (field === 'fix') return 'none, last, 2d or 3d';
  return 'text';
}

/** A token of a JSON pointer as the name it stands for (RFC 6901 section 4). */
function unescaped(token: string): string {
  return token.replaceAll('~1', '/').replaceAll('~0', '~');
}

const validators = new WeakMap<Contract, ValidateFunction>();

/** Compiling takes longer than judging a small export; once a contract is enough. */
function validatorOf(contract: Contract): ValidateFunction {
  let validate = validators.get(contract);
  if (!validate) {
    validate = new Ajv2020({ strict: true, allErrors: true }).compile(rowSchema(contract));
    validators.set(contract, validate);
  }
  return validate;
}

/** Every row satisfies the schema. */
export class RowsValid implements Check {
  readonly about: CheckAbout = {
    id: 'schema.rows',
    family: 'schema',
    promise: 'every row satisfies the JSON Schema of the contract',
    proves: 'each cell has the shape of its column',
    cannotProve: 'that a cell of the right shape holds the right value; the values checks do that',
  };
  readonly #names: readonly string[];
  readonly #shapes: ReadonlyMap<string, string>;
  readonly #validate: ValidateFunction;
  readonly #wrong = new Map<string, Collector>();
  #rows = 0;

  constructor(contract: Contract) {
    this.#names = contract.columns.map((column) => column.name);
    this.#shapes = new Map(contract.columns.map((column) => [column.name, shapeOf(column)]));
    this.#validate = validatorOf(contract);
  }

  row(row: Row): void {
    this.#rows += 1;
    const cells: Record<string, string> = {};
    row.cells.forEach((cell, k) => {
      cells[this.#names[k] ?? `\u0000column ${k + 1}`] = cell;
    });
    if (this.#validate(cells)) return;
    const told = new Set<string>();
    for (const error of this.#validate.errors ?? []) {
      const named: unknown = error.params['missingProperty'] ?? error.params['additionalProperty'];
      const key = typeof named === 'string' ? named : unescaped(error.instancePath.slice(1));
      const column = key.replace('\u0000', '');
      if (told.has(column)) continue;
      told.add(column);
      let collector = this.#wrong.get(column);
      if (!collector) {
        collector = new Collector(`${column}: not of the promised shape`, 'export');
        this.#wrong.set(column, collector);
      }
      collector.add(row.trackerId, () => ({
        ...exampleOfRow(row),
        column,
        expected: this.#shapes.get(column) ?? 'no further cell',
        found: cells[key] ?? 'no cell',
      }));
    }
  }

  end(): CheckResult {
    const findings = [...this.#wrong.values()].flatMap((collector) => collector.findings());
    return result(this.about, this.#rows, this.#rows === 0 ? 'no rows' : `${this.#rows} rows`, findings);
  }
}
