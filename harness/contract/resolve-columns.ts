// Columns of a contract file, with every default filled in.
import {
  below,
  describe,
  FIELDS,
  nearestWord,
  noteWord,
  type Field,
  type Mistakes,
} from '../../sim/index.ts';
import type { Column, ColumnForm } from './contract.ts';
import type { Column as RawColumn } from './raw.ts';

const NUMBER_KEYS = ['factor', 'within', 'decimals'] as const;
const TIME_KEYS = ['as', 'zone', 'secondDecimals'] as const;

/** Notes unknown fields, keys that don't fit the field, and zones that don't exist. */
export function resolveColumn(column: RawColumn, pointer: string, mistakes: Mistakes): Column {
  const field = FIELDS.find(({ name }) => name === column.field);
  if (column.field !== undefined && field === undefined) {
    noteWord(
      below(pointer, 'field'),
      column.field,
      FIELDS.map(({ name }) => name),
      mistakes,
    );
    return { name: column.name, field: null, form: { kind: 'text' }, nullAs: '' };
  }
  checkKeys(column, field, pointer, mistakes);
  return {
    name: column.name,
    field: field?.name ?? null,
    form: resolveForm(column, field, pointer, mistakes),
    nullAs: canBeAbsent(field) ? (column.nullAs ?? '') : null,
  };
}

function canBeAbsent(field: Field | undefined): boolean {
  return field === undefined || (field.kind === 'number' && field.nullable);
}

function checkKeys(column: RawColumn, field: Field | undefined, pointer: string, mistakes: Mistakes): void {
  const refuse = (key: keyof RawColumn, where: string) => {
    if (column[key] === undefined) return;
    const what = field === undefined ? 'a column without a field' : `the ${field.kind} field ${field.name}`;
    mistakes.addKey(below(pointer, key), `this key ${where} only`, `it with ${what}`, 'leave it out');
  };
  if (field?.kind !== 'number') for (const key of NUMBER_KEYS) refuse(key, 'with number fields');
  if (field?.kind !== 'time') for (const key of TIME_KEYS) refuse(key, 'with time fields');
  if (!canBeAbsent(field)) refuse('nullAs', 'with fields that can be absent');
}

function resolveForm(
  column: RawColumn,
  field: Field | undefined,
  pointer: string,
  mistakes: Mistakes,
): ColumnForm {
  switch (field?.kind) {
    case 'number':
      if (column.factor === 0) {
        mistakes.add(below(pointer, 'factor'), 'a number other than 0', describe(0), 'leave it out for 1');
      }
      checkRounding(column, field.decimals, pointer, mistakes);
      return {
        kind: 'number',
        factor: column.factor ?? 1,
        within: column.within ?? 0,
        decimals: column.decimals ?? null,
      };
    case 'time':
      checkZone(below(pointer, 'zone'), column.zone, mistakes);
      if (column.as?.startsWith('epoch') && column.zone !== undefined && column.zone !== 'UTC') {
        const mend = 'leave zone out, or write the time as local or rfc3339';
        mistakes.add(below(pointer, 'zone'), `UTC with as: ${column.as}`, describe(column.zone), mend);
      }
      return {
        kind: 'time',
        as: column.as ?? 'rfc3339',
        zone: column.zone ?? 'UTC',
        secondDecimals: column.secondDecimals ?? 3,
      };
    case 'text':
    case undefined:
      return { kind: 'text' };
  }
}

/** Fewer digits than the field has can't be equal to it: such a promise would always be broken. */
function checkRounding(column: RawColumn, fieldDecimals: number, pointer: string, mistakes: Mistakes): void {
  const { factor = 1, within = 0, decimals } = column;
  if (decimals === undefined || factor !== 1 || decimals >= fieldDecimals) return;
  const least = Number(`5e-${decimals + 1}`);
  if (within >= least) return;
  const expected = `within of at least ${least}, or ${fieldDecimals} decimals`;
  mistakes.add(
    below(pointer, 'decimals'),
    expected,
    `${decimals} with within ${within}`,
    'allow for the rounding',
  );
}

function checkZone(pointer: string, zone: string | undefined, mistakes: Mistakes): void {
  if (zone === undefined || isZone(zone)) return;
  const near = nearestWord(zone, Intl.supportedValuesOf('timeZone'));
  const mend = near === undefined ? 'write UTC, or a name such as Atlantic/Azores' : `write ${near}`;
  mistakes.add(pointer, 'an IANA time zone', describe(zone), mend);
}

function isZone(zone: string): boolean {
  // Some engines take offsets as zones; they have no daylight saving and aren't in the IANA list.
  if (!/^[A-Za-z]/.test(zone)) return false;
  try {
    return new Intl.DateTimeFormat('en', { timeZone: zone }).resolvedOptions().timeZone !== '';
  } catch {
    return false;
  }
}
