// CSV out of the store: a streaming query, written with back-pressure under a temporary name, then renamed.
import { Buffer, isUtf8 } from 'node:buffer';
import { open, rename, rm, type FileHandle } from 'node:fs/promises';
import { BadInput, NotCompleted } from '../../sim/index.ts';
import type { Column } from '../contract/contract.ts';
import { RFC4180 } from '../csv/reader.ts';
import { csvLine, csvRecord, quotedCell, type CsvStyle } from '../csv/writer.ts';
import { cellWriter } from './cell.ts';
import type { ExportQuery } from './pipeline.ts';
import { COLUMNS, type StoreColumn } from './row.ts';
import { readStore } from './store.ts';

/** Text is handed to the file in pieces of about this many characters. */
const PIECE = 128 * 1024;

/** Exports readings of a store. Throws BadInput for a query that can't be answered, NotCompleted for the rest. */
export async function exportReadings(storeFile: string, query: ExportQuery): Promise<{ rows: number }> {
  const sources = query.columns.map(storeColumn);
  const writers = query.columns.map((column) => cellWriter(column, query.csv));
  // Made here, so that the contract's columns and order reach the query as names we chose.
  const selected = sources.map((source) => (source === undefined ? 'received_ms' : `"${source.name}"`));
  const sql = `SELECT ${selected.join(', ')} FROM readings WHERE at_ms >= ? AND at_ms < ? ORDER BY ${orderOf(query)}`;
  const header = query.csv.header
    ? csvRecord(
        query.columns.map((column) => column.name),
        query.csv,
      )
    : '';
  const mark = query.csv.byteOrderMark === 'required' ? '\ufeff' : '';
  // A column of the pipeline's own: the time the reading was received, or nothing.
  const own = query.columns.map((column, i) => sources[i] === undefined && column.form.kind !== 'time');
  const parameters = [query.fromMs, query.toMs];
  return await writeWhole(query.file, mark + header, readStore(storeFile, sql, parameters), (row) =>
    csvLine(
      writers.map((write, i) => write(own[i] === true ? null : row[i])),
      query.csv,
    ),
  );
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
  const names = ['receivedAt', 'topic', 'reason', 'payloadBytes', 'payloadText', 'payloadBase64'];
  const sql = 'SELECT received_ms, topic, reason, payload_bytes, payload FROM rejects ORDER BY n';
  return await writeWhole(file, csvRecord(names, RFC4180), readStore(storeFile, sql, []), (row) => {
    const [receivedMs, topic, reason, bytes, blob] = row;
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
  });
}

/** Writes head and lines to `file`, which comes into being whole or not at all. */
async function writeWhole(
  file: string,
  head: string,
  rows: Generator<readonly unknown[]>,
  lineOf: (row: readonly unknown[]) => string,
): Promise<{ rows: number }> {
  const temporary = `${file}.${process.pid}.part`;
  let handle: FileHandle | undefined;
  try {
    handle = await open(temporary, 'w');
    let text = head;
    let count = 0;
    for (const row of rows) {
      text += lineOf(row);
      count += 1;
      if (text.length >= PIECE) {
        // Waiting for each piece bounds the memory, and lets messages in between.
        await handle.writeFile(text);
        text = '';
      }
    }
    await handle.writeFile(text);
    await handle.sync();
    await handle.close();
    handle = undefined;
    await rename(temporary, file);
    return { rows: count };
  } catch (error) {
    await handle?.close().catch(() => {});
    await rm(temporary, { force: true }).catch(() => {});
    throw new NotCompleted(`export ${file}: ${(error as Error).message}`);
  } finally {
    rows.return(undefined);
  }
}
