// CSV out of the store: a streaming query, written with back-pressure under a temporary name, then renamed.
import { Buffer, isUtf8 } from 'node:buffer';
import { open, rename, rm, type FileHandle } from 'node:fs/promises';
import { BadInput, NotCompleted } from '../../sim/index.ts';
import type { Column } from '../contract/contract.ts';
import { RFC4180 } from '../csv/reader.ts';
import { csvLine, csvRecord, quotedCell, type CsvStyle } from '../csv/writer.ts';
import { cellWriter } from './cell.ts';
import { SOUND, type Damage, type Select } from './damage.ts';
import type { ExportQuery } from './pipeline.ts';
import { COLUMNS, type StoreColumn } from './row.ts';
import { readStore } from './store.ts';

/** Text is handed to the file in pieces of about this many characters. */
const PIECE = 128 * 1024;

/** Exports readings of a store. Throws BadInput for a query that can't be answered, NotCompleted for the rest. */
export async function exportReadings(
  storeFile: string,
  asked: ExportQuery,
  damage: Damage = SOUND,
): Promise<{ rows: number }> {
  const query = damage.columns === undefined ? asked : { ...asked, columns: damage.columns(asked.columns) };
  const sources = query.columns.map(storeColumn);
  const writers = query.columns.map((column) => {
    const sound = cellWriter(column, query.csv);
    return damage.cell?.(sound, column, query.csv) ?? sound;
  });
  // Made here, so that the contract's columns and order reach the query as names we chose.
  const select: Select = {
    columns: sources.map((source) => (source === undefined ? 'received_ms' : `"${source.name}"`)),
    where: 'at_ms >= ? AND at_ms < ?',
    parameters: [query.fromMs, query.toMs],
    orderBy: orderOf(query),
    tail: '',
  };
  // A column of the pipeline's own: the time the reading was received, or nothing.
  const own = query.columns.map((column, i) => sources[i] === undefined && column.form.kind !== 'time');
  const read = (parts: Select): Generator<readonly unknown[]> =>
    readStore(storeFile, sqlOf(parts), parts.parameters);
  let rows = 0;
  const lines = linesOf(query, damage.select?.(select, read, query) ?? read(select), (row) => {
    rows += 1;
    return csvLine(
      writers.map((write, i) => write(own[i] === true ? null : row[i])),
      query.csv,
    );
  });
  await writeWhole(query.file, damage.lines?.(lines, query) ?? lines, damage.encoding);
  return { rows };
}

function sqlOf({ columns, where, orderBy, tail }: Select): string {
  return `SELECT ${columns.join(', ')} FROM readings WHERE ${where} ORDER BY ${orderBy} ${tail}`;
}

/** Byte order mark and header, then a line for each row. */
function* linesOf(
  { columns, csv }: Pick<ExportQuery, 'columns' | 'csv'>,
  rows: Iterable<readonly unknown[]>,
  lineOf: (row: readonly unknown[]) => string,
): Generator<string> {
  const mark = csv.byteOrderMark === 'required' ? '\ufeff' : '';
  const names = columns.map((column) => column.name);
  if (csv.header) yield mark + csvRecord(names, csv);
  else if (mark !== '') yield mark;
  for (const row of rows) yield lineOf(row);
}

/** Undefined for a column of the pipeline's own. */
function storeColumn(column: Column): StoreColumn | undefined {
  if (column.field === null) return undefined;
  const found = COLUMNS.find((c) => c.field.name === column.field);
  if (found === undefined) {
    throw new BadInput(
      `column ${JSON.stringify(column.name)}: expected a field of a reading, found ${JSON.stringify(column.field)}. Mend: name one of ${COLUMNS.map((c) => c.field.name).join(', ')}.`,
    );
  }
  return found;
}

function orderOf(query: ExportQuery): string {
  const keys: string[] = [];
  const named = new Set<string>();
  for (const { column, direction } of query.order) {
    const source = query.columns.find((c) => c.name === column);
    const stored = source === undefined ? undefined : (storeColumn(source)?.name ?? 'received_ms');
    if (stored === undefined) {
      throw new BadInput(
        `order: expected a column of the export, found ${JSON.stringify(column)}. Mend: name one of its columns.`,
      );
    }
    named.add(stored);
    keys.push(`"${stored}" ${direction === 'rising' ? 'ASC' : 'DESC'}`);
  }
  // Made complete, so that two exports can't differ; alone, it is the order of the index.
  for (const name of ['at_ms', 'id', 'boot', 'seq']) if (!named.has(name)) keys.push(`"${name}" ASC`);
  return keys.join(', ');
}

/** Exports what was refused. */
export async function exportRejectRows(storeFile: string, file: string): Promise<{ rows: number }> {
  const sql = 'SELECT received_ms, topic, reason, payload_bytes, payload FROM rejects ORDER BY n';
  const names = ['receivedAt', 'topic', 'reason', 'payloadBytes', 'payloadText', 'payloadBase64'];
  let rows = 0;
  const lines = function* (): Generator<string> {
    yield csvRecord(names, RFC4180);
    for (const row of readStore(storeFile, sql, [])) {
      rows += 1;
      yield rejectLine(row);
    }
  };
  await writeWhole(file, lines());
  return { rows };
}

function rejectLine([receivedMs, topic, reason, bytes, blob]: readonly unknown[]): string {
  const payload = Buffer.from(blob as Uint8Array);
  const text = isUtf8(payload);
  return csvLine(
    [
      new Date(Number(receivedMs)).toISOString(),
      quotedCell(String(topic)),
      quotedCell(String(reason)),
      String(bytes),
      text ? quotedCell(payload.toString()) : '',
      text ? '' : payload.toString('base64'),
    ],
    RFC4180 satisfies CsvStyle,
  );
}

/** Writes lines to `file`, which comes into being whole or not at all. Left early, the lines are closed. */
async function writeWhole(
  file: string,
  lines: Iterable<string>,
  encoding: BufferEncoding = 'utf8',
): Promise<void> {
  const temporary = `${file}.${process.pid}.part`;
  let handle: FileHandle | undefined;
  try {
    handle = await open(temporary, 'w');
    let text = '';
    for (const line of lines) {
      text += line;
      if (text.length >= PIECE) {
        // Waiting for each piece bounds the memory, and lets messages in between.
        await handle.writeFile(text, encoding);
        text = '';
      }
    }
    await handle.writeFile(text, encoding);
    await handle.sync();
    await handle.close();
    handle = undefined;
    await rename(temporary, file);
  } catch (error) {
    await handle?.close().catch(() => {});
    await rm(temporary, { force: true }).catch(() => {});
    throw new NotCompleted(`export ${file}: ${(error as Error).message}`);
  }
}
