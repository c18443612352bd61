// The front door for contracts: a file becomes a Contract, or a BadInput that tells every mistake in it.
import { join } from 'node:path';
import {
  below,
  describe,
  Mistakes,
  noteWord,
  packageRoot,
  parseDocument,
  parseDuration,
  readText,
  schemaCheck,
} from '../../sim/index.ts';
import type { Column, Contract, OrderKey } from './contract.ts';
import schema from './contract.schema.json' with { type: 'json' };
import type { RawContract } from './raw.ts';
import { resolveColumn } from './resolve-columns.ts';

const checkSchema = schemaCheck(schema);

const DEFAULT_CSV: Contract['csv'] = {
  delimiter: ',',
  lineEnd: 'crlf',
  header: true,
  byteOrderMark: 'none',
  formulaGuard: '',
};

/**
 * Reads a contract file (YAML, at most 4 MiB).
 * @throws BadInput with every mistake found, in the order of the file.
 */
export function readContract(file: string): Contract {
  return parseContract(readText(file), file);
}

/** The contract of the reference pipeline. */
export function defaultContract(): Contract {
  return readContract(join(packageRoot(), 'scenarios', 'contracts', 'reference.yaml'));
}

/** The same as readContract for text; `file` is only named in messages. */
export function parseContract(text: string, file: string): Contract {
  const document = parseDocument(text, file);
  const mistakes = new Mistakes(document);
  checkSchema(document, mistakes);
  // Everything else leans on the columns, so that a wrong shape is told by itself.
  mistakes.throwIfAny();
  const contract = resolveContract(document.value as RawContract, mistakes);
  mistakes.throwIfAny();
  return contract;
}

function resolveContract(raw: RawContract, mistakes: Mistakes): Contract {
  const columns = raw.columns.map((column, i) => resolveColumn(column, below('/columns', i), mistakes));
  checkNames(columns, mistakes);
  // A column whose field is mistyped is a mistake already told.
  const judged = raw.columns.filter(({ field }) => field !== undefined).map(({ name }) => name);
  checkReferences('/identity', raw.identity, judged, mistakes);
  const order = (raw.order ?? []).map((key): OrderKey =>
    typeof key === 'string'
      ? { column: key, direction: 'rising' }
      : { column: key.column, direction: key.direction ?? 'rising' },
  );
  checkReferences(
    '/order',
    order.map(({ column }) => column),
    judged,
    mistakes,
  );
  return {
    title: raw.title,
    columns,
    identity: raw.identity,
    repeats: raw.repeats ?? 'collapse',
    order,
    perTracker: raw.perTracker ?? 'measured',
    window: { column: resolveWindow(raw.window?.column, columns, mistakes) },
    latenessMs: resolveDuration('/lateness', raw.lateness, mistakes) ?? Number.POSITIVE_INFINITY,
    csv: { ...DEFAULT_CSV, ...raw.csv },
    delayMs: resolveDuration('/delay', raw.delay, mistakes) ?? null,
  };
}

function resolveDuration(pointer: string, text: string | undefined, mistakes: Mistakes): number | undefined {
  if (text === undefined) return undefined;
  const ms = parseDuration(text);
  if (ms === undefined)
    mistakes.add(pointer, 'a shorter duration', describe(text), 'leave it out for no limit');
  return ms;
}

function checkNames(columns: readonly Column[], mistakes: Mistakes): void {
  const seen = new Map<string, number>();
  for (const [i, { name }] of columns.entries()) {
    const other = seen.get(name);
    if (other === undefined) seen.set(name, i);
    else {
      const found = `${describe(name)}, as at /columns/${other}`;
      mistakes.add(below('/columns', i, 'name'), 'a name of its own', found, 'rename one of the two');
    }
  }
}

/** Identity and order can only stand on columns that exist and are judged, each named once. */
function checkReferences(
  pointer: string,
  names: readonly string[],
  judged: readonly string[],
  mistakes: Mistakes,
): void {
  for (const [i, name] of names.entries()) {
    const at = below(pointer, i);
    if (!judged.includes(name)) noteWord(at, name, judged, mistakes);
    else if (names.indexOf(name) < i) {
      mistakes.add(at, 'each column once', describe(name), 'take one of the two out');
    }
  }
}

function resolveWindow(named: string | undefined, columns: readonly Column[], mistakes: Mistakes): string {
  const times = columns.filter(({ form }) => form.kind === 'time').map(({ name }) => name);
  const [first] = times;
  if (mistakes.within('/columns')) return named ?? '';
  if (named !== undefined) {
    if (!times.includes(named)) noteWord('/window/column', named, times, mistakes);
    return named;
  }
  if (first === undefined) {
    mistakes.add('/columns', 'at least one time column', 'none', 'add a column with `field: at`');
    return '';
  }
  return first;
}
