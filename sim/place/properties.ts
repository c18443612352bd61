// The properties of one feature, checked one by one. Every method throws BadInput at the property's own place.
import type { BadInput } from '../errors.ts';
import { shown } from './json-source.ts';
import type { JsonSource } from './json-source.ts';

const FREE_TEXT: readonly string[] = ['id', 'what', 'name', 'note'];
const ID = /^[a-z0-9]+(-[a-z0-9]+)*$/;

export interface Properties {
  has(key: string): boolean;
  /** Refuses properties that mean nothing here: a misspelt one would be lost in silence. */
  only(keys: readonly string[]): void;
  id(): string;
  /** Refuses an id that is taken already. */
  unused(taken: ReadonlyMap<string, unknown>, id: string): void;
  oneOf<T extends string>(key: string, values: readonly T[]): T;
  /** A number within the range; `otherwise` where the property is absent, undefined = it must be there. */
  number(key: string, otherwise: number | undefined, range: readonly [number, number]): number;
  list(key: string): readonly unknown[];
  coverage(): number | 'none' | undefined;
  bad(key: string, expected: string, found: string, mend: string): BadInput;
}

export function properties(
  source: JsonSource,
  values: Readonly<Record<string, unknown>>,
  pointer: string,
): Properties {
  const bad = (key: string, expected: string, found: string, mend: string): BadInput =>
    source.bad(key === '' ? pointer : `${pointer}/${key}`, expected, found, mend);
  /** A missing property has no place in the file; its feature has. */
  const wrong = (key: string, expected: string, mend: string): BadInput =>
    key in values
      ? bad(key, expected, shown(values[key]), mend)
      : bad('', `\`${key}\`: ${expected}`, 'none', mend);
  const number = (
    key: string,
    otherwise: number | undefined,
    [min, max]: readonly [number, number],
  ): number => {
    const value = values[key] ?? otherwise;
    if (typeof value === 'number' && value >= min && value <= max) return value;
    throw wrong(key, `a number from ${min} to ${max}`, 'write a number in this range');
  };
  return {
    bad,
    number,
    has: (key) => values[key] !== undefined,
    only(keys) {
      const known = [...FREE_TEXT, ...keys];
      for (const key of Object.keys(values)) {
        if (known.includes(key)) continue;
        const found = `\`${key}\``;
        throw bad(
          escaped(key),
          `one of the properties ${known.join(', ')}`,
          found,
          'correct the spelling or remove it',
        );
      }
    },
    id() {
      const id = values['id'];
      if (typeof id === 'string' && ID.test(id)) return id;
      throw wrong('id', 'small letters and digits joined by hyphens', 'write e.g. "ostrel-quay"');
    },
    unused(taken, id) {
      if (taken.has(id)) throw bad('id', 'an id that is used once', shown(id), 'rename one of the two');
    },
    oneOf<T extends string>(key: string, allowed: readonly T[]): T {
      const value = allowed.find((candidate) => candidate === values[key]);
      if (value !== undefined) return value;
      throw wrong(key, `one of ${allowed.join(', ')}`, 'write one of these words');
    },
    list(key) {
      const value = values[key] ?? [];
      if (Array.isArray(value)) return value;
      throw wrong(key, 'an array', 'put it in square brackets');
    },
    coverage() {
      const value = values['coverage'];
      if (value === undefined || value === 'none') return value;
      if (typeof value === 'number') return number('coverage', undefined, [-100, 100]);
      throw wrong('coverage', '"none", or decibels to add', 'write "none" or a number such as -12');
    },
  };
}

/** A key as a part of a JSON pointer (RFC 6901 section 3). */
function escaped(key: string): string {
  return key.replaceAll('~', '~0').replaceAll('/', '~1');
}
