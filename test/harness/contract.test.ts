import { describe, expect, it } from 'vitest';
import { defaultContract, parseContract } from '../../harness/contract/read-contract.ts';
import { FIELDS } from '../../sim/reading.ts';
import { linesOf } from '../support/bad-input.ts';

const SOUND = `wayproof: contract/1
title: t
identity: [id, seq]
columns:
  - { name: id, field: id }
  - { name: seq, field: seq }
  - { name: at, field: at }
  - { name: temp, field: airTempC }
  - { name: row }
`;
const mistakes = (text: string) => linesOf(() => parseContract(text, 'c.yaml'));
const withColumn = (column: string) => mistakes(`${SOUND}  - { ${column} }\n`);

describe('the reference contract', () => {
  const contract = defaultContract();

  it('exports every field once, under names in snake case', () => {
    expect(contract.columns.map(({ field }) => field)).toEqual(FIELDS.map(({ name }) => name));
    for (const { name } of contract.columns) expect(name).toMatch(/^[a-z][a-z0-9]*(_[a-z0-9]+)*$/);
  });

  it('promises what it says', () => {
    expect(contract).toMatchObject({
      identity: ['tracker_id', 'boot', 'seq'],
      repeats: 'collapse',
      order: ['measured_at', 'tracker_id', 'boot', 'seq'].map((column) => ({ column, direction: 'rising' })),
      perTracker: 'measured',
      window: { column: 'measured_at' },
      latenessMs: Number.POSITIVE_INFINITY,
      csv: { delimiter: ',', lineEnd: 'crlf', header: true, byteOrderMark: 'none', formulaGuard: '' },
      delayMs: null,
    });
    const at = contract.columns.find(({ field }) => field === 'at');
    expect(at?.form).toEqual({ kind: 'time', as: 'rfc3339', zone: 'UTC', secondDecimals: 3 });
  });

  it('writes an absent value as an empty cell, and only where one can be absent', () => {
    for (const [i, field] of FIELDS.entries()) {
      const nullable = field.kind === 'number' && field.nullable;
      expect(contract.columns[i]?.nullAs).toBe(nullable ? '' : null);
    }
  });
});

describe('reading a contract', () => {
  it('fills in every default', () => {
    expect(parseContract(SOUND, 'c.yaml')).toEqual({
      title: 't',
      columns: [
        { name: 'id', field: 'id', form: { kind: 'text' }, nullAs: null },
        {
          name: 'seq',
          field: 'seq',
          form: { kind: 'number', factor: 1, within: 0, decimals: null },
          nullAs: null,
        },
        {
          name: 'at',
          field: 'at',
          form: { kind: 'time', as: 'rfc3339', zone: 'UTC', secondDecimals: 3 },
          nullAs: null,
        },
        {
          name: 'temp',
          field: 'airTempC',
          form: { kind: 'number', factor: 1, within: 0, decimals: null },
          nullAs: '',
        },
        { name: 'row', field: null, form: { kind: 'text' }, nullAs: '' },
      ],
      identity: ['id', 'seq'],
      repeats: 'collapse',
      order: [],
      perTracker: 'measured',
      window: { column: 'at' },
      latenessMs: Number.POSITIVE_INFINITY,
      csv: { delimiter: ',', lineEnd: 'crlf', header: true, byteOrderMark: 'none', formulaGuard: '' },
      delayMs: null,
    });
  });

  it('takes everything that can be said', () => {
    const contract = parseContract(
      `${SOUND}  - { name: local, field: at, as: local, zone: America/Sao_Paulo, secondDecimals: 0 }
  - { name: knots, field: speedMps, factor: 1.9438, within: 0.01, decimals: 2, nullAs: 'NULL' }
order: [{ column: at, direction: falling }, seq]
repeats: keep
perTracker: arrival
window: { column: local }
lateness: 2d
delay: 90s
csv: { delimiter: ";", lineEnd: lf, header: false, byteOrderMark: required, formulaGuard: "'" }
`,
      'c.yaml',
    );
    expect(contract).toMatchObject({
      order: [
        { column: 'at', direction: 'falling' },
        { column: 'seq', direction: 'rising' },
      ],
      window: { column: 'local' },
      latenessMs: 172_800_000,
      delayMs: 90_000,
      csv: { delimiter: ';', formulaGuard: "'" },
    });
    expect(contract.columns.at(-1)?.nullAs).toBe('NULL');
  });

  it.each([
    ['name: x, field: latDegg', '/columns/5/field: expected one of id, label'],
    ['name: x, field: latDegg', 'Mend: write latDeg.'],
    [
      'name: seq, field: boot',
      '/columns/5/name: expected a name of its own, found the text "seq", as at /columns/1',
    ],
    [
      'name: x, field: at, zone: Europe/Lisbonn',
      'expected an IANA time zone, found the text "Europe/Lisbonn". Mend: write Europe/Lisbon.',
    ],
    ['name: x, field: at, zone: "+01:00"', 'expected an IANA time zone'],
    [
      'name: x, field: at, as: epoch-s, zone: Europe/Lisbon',
      '/columns/5/zone: expected UTC with as: epoch-s',
    ],
    ['name: x, field: at, secondDecimals: 4', 'expected a number of at most 3'],
    ['name: x, field: at, decimals: 2', '/columns/5/decimals: expected this key with number fields only'],
    ['name: x, field: hdop, zone: UTC', '/columns/5/zone: expected this key with time fields only'],
    ['name: x, field: hdop, factor: 0', '/columns/5/factor: expected a number other than 0'],
    ['name: x, field: hdop, within: -1', '/columns/5/within: expected a number of at least 0'],
    ['name: x, field: latDeg, decimals: 4', 'expected within of at least 0.00005, or 7 decimals'],
    [
      'name: x, field: seq, nullAs: ""',
      '/columns/5/nullAs: expected this key with fields that can be absent only',
    ],
    ['name: x, factor: 2', 'found it with a column without a field'],
    ['name: "", field: hdop', 'expected text of at least 1 characters'],
  ])('column { %s }', (column, line) => {
    expect(withColumn(column).join('\n')).toContain(line);
  });

  it.each([
    [
      SOUND.replace('[id, seq]', '[id, sec]'),
      '/identity/1: expected one of id, seq, at, temp, found the text "sec". Mend: write seq.',
    ],
    [SOUND.replace('[id, seq]', '[id, row]'), '/identity/1: expected one of id, seq, at, temp'],
    [SOUND.replace('[id, seq]', '[id, id]'), '/identity/1: expected each column once'],
    [SOUND.replace('[id, seq]', '[]'), '/identity: expected a list of at least 1'],
    [`${SOUND}order: [time]\n`, '/order/0: expected one of'],
    [`${SOUND}order: [{ column: at, direction: down }]\n`, '/order/0/direction: expected rising or falling'],
    [`${SOUND}window: { column: temp }\n`, '/window/column: expected at, found the text "temp"'],
    [SOUND.replace('  - { name: at, field: at }\n', ''), '/columns: expected at least one time column'],
    [`${SOUND}csv: { delimiter: ';;' }\n`, '/csv/delimiter: expected one ASCII sign'],
    [`${SOUND}csv: { delimiter: '"' }\n`, '/csv/delimiter: expected one ASCII sign'],
    [`${SOUND}csv: { delimiter: "\\n" }\n`, '/csv/delimiter: expected one ASCII sign'],
    [`${SOUND}csv: { lineEnd: cr }\n`, '/csv/lineEnd: expected one of crlf, lf, either'],
    [`${SOUND}lateness: forever\n`, '/lateness: expected a duration such as'],
    [SOUND.replace('contract/1', 'scenario/1'), '/wayproof: expected contract/1'],
    [`${SOUND}colums: []\n`, 'Mend: write columns.'],
  ])('%# is told', (text, line) => {
    expect(mistakes(text).join('\n')).toContain(line);
  });

  it('takes a tab as delimiter', () => {
    expect(parseContract(`${SOUND}csv: { delimiter: "\\t" }\n`, 'c.yaml').csv.delimiter).toBe('\t');
  });

  it('does not blame identity and window for a mistyped field', () => {
    expect(mistakes(SOUND.replace('field: at', 'field: att'))).toHaveLength(1);
  });
});
