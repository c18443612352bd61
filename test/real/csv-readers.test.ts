// A nasty file means the same to our reader, to Python's csv module and to DuckDB.
import { Buffer } from 'node:buffer';
import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { DuckDBInstance } from '@duckdb/node-api';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { readCsv, RFC4180 } from '../../harness/csv/reader.ts';
import { csvRecord } from '../../harness/csv/writer.ts';

const HEADER = ['id', 'label', 'lonDeg', 'note'];
const ROWS: readonly (readonly string[])[] = [
  ['004999010640000', 'a,b', '-14.2123456', 'plain'],
  ['004999010640001', 'say ""hi""', '0.0000001', '"'],
  ['004999010640002', 'two\r\nlines', '-179.9999999', '\r\n'],
  ['004999010640003', ' leading and trailing ', '180', 'tab\there'],
  ['004999010640004', 'Åre 😀 e\u0301', '3.75', '\ufeffmark first'],
  ['004999010640005', '=1+1', '-0.5', '@x'],
  ['004999010640006', 'lone\nLF', '1e-7', '-'],
  ['8944500000000123457', "it's; | \\ back\\", '9007199254740993', 'NULL'],
];

const PYTHON = spawnSync('python3', ['--version']).status === 0;
const SKIP_PYTHON = !PYTHON && process.env['CI'] === undefined;
if (SKIP_PYTHON) console.log('skipped: python3 is not installed, so its csv module could not be asked');

const folder = mkdtempSync(join(tmpdir(), 'csv-'));
const nasty = join(folder, 'nasty.csv');
const exported = join(folder, 'run', 'export.csv');

beforeAll(() => {
  writeFileSync(nasty, [HEADER, ...ROWS].map((row) => csvRecord(row, RFC4180)).join(''));
  const run = spawnSync(
    'node',
    [
      '--import',
      'tsx',
      'harness/cli/main.ts',
      'run',
      'scenarios/awkward-labels.yaml',
      '--out',
      join(folder, 'run'),
      '--quiet',
    ],
    { encoding: 'utf8' },
  );
  if (!run.stdout.startsWith('held')) throw new Error(`the run was not held: ${run.stdout}${run.stderr}`);
});
afterAll(() => rmSync(folder, { recursive: true }));

async function asWeRead(file: string): Promise<(readonly string[])[]> {
  const cells: (readonly string[])[] = [];
  for await (const batch of readCsv(file, RFC4180)) {
    expect(batch.flaws).toEqual([]);
    cells.push(...batch.records.map((record) => record.cells));
  }
  return cells;
}

it('the nasty file is read by us as it was written', async () => {
  expect(await asWeRead(nasty)).toEqual([HEADER, ...ROWS]);
});

it('the export of a run holds the awkward labels', async () => {
  const [, ...rows] = await asWeRead(exported);
  const labels = new Set(rows.map((row) => row[1]));
  expect(rows.length).toBeGreaterThan(500);
  expect([...labels].some((label) => label?.startsWith('='))).toBe(true);
  expect([...labels].some((label) => label?.includes('\n'))).toBe(true);
});

describe.each([
  ['the nasty file', nasty],
  ['the export of a run', exported],
])('%s', (_, file) => {
  it.skipIf(SKIP_PYTHON)("means the same to Python's csv module, in strict mode", async () => {
    const program =
      'import csv, json, sys\n' +
      'with open(sys.argv[1], newline="", encoding="utf-8") as f:\n' +
      '    print(json.dumps(list(csv.reader(f, strict=True))))\n';
    const run = spawnSync('python3', ['-c', program, file], {
      encoding: 'utf8',
      maxBuffer: 64 * 1024 * 1024,
    });
    expect(run.stderr).toBe('');
    expect(JSON.parse(run.stdout)).toEqual(await asWeRead(file));
  });

  it('means the same to DuckDB, with nothing left to detection', async () => {
    const [header = [], ...rows] = await asWeRead(file);
    const instance = await DuckDBInstance.create(':memory:', { threads: '1' });
    const connection = await instance.connect();
    const columns = header.map((name) => `'${name}': 'VARCHAR'`).join(', ');
    const result = await connection.runAndReadAll(
      `SELECT ${header.map((name) => `hex("${name}")`).join(', ')} FROM read_csv('${file.replaceAll("'", "''")}', auto_detect=false, all_varchar=true, header=true,
         delim=',', quote='"', escape='"', strict_mode=true, columns={${columns}},
         force_not_null=[${header.map((name) => `'${name}'`).join(', ')}])`,
    );
    // As hex, because the binding's own decoding drops a U+FEFF at the front of a value.
    const text = (hex: unknown): string => Buffer.from(String(hex), 'hex').toString();
    expect(result.getRowsJS().map((row) => row.map(text))).toEqual(rows);
    connection.closeSync();
    instance.closeSync();
  });
});
