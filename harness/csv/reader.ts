// Strict RFC 4180 reader on bytes. Streams files of any size; keeps one record in memory.
// It notes what is wrong and reads on, so that one bad row doesn't hide the rest.
import { Buffer } from 'node:buffer';
import { createReadStream } from 'node:fs';
import { BadInput, NotCompleted, regularFileBytes, whyUnreadable } from '../../sim/index.ts';
import type { CsvBatch, CsvRules } from './flaws.ts';
import { CsvScanner } from './scanner.ts';

export { RFC4180 } from './flaws.ts';
export type { CsvBatch, CsvFlaw, CsvRecord, CsvRules } from './flaws.ts';

/** Longest record that is read, bytes. */
export const MAX_RECORD_BYTES = 16 * 1024 * 1024;

const FILE_CHUNK_BYTES = 256 * 1024;

/**
 * Reads CSV from a file (by name) or from bytes in memory, a batch at a time.
 * What is wrong with the bytes comes as flaws. Throws BadInput where there is no regular file to open or the
 * delimiter isn't one ASCII character, NotCompleted where reading breaks off.
 */
export async function* readCsv(source: string | Uint8Array, rules: CsvRules): AsyncGenerator<CsvBatch> {
  const scanner = new CsvScanner(rules, MAX_RECORD_BYTES);
  for await (const chunk of typeof source === 'string' ? fileChunks(source) : memoryChunks(source)) {
    const batch = scanner.push(chunk);
    if (batch.records.length > 0 || batch.flaws.length > 0) yield batch;
    if (scanner.stopped) return;
  }
  const last = scanner.finish();
  if (last.records.length > 0 || last.flaws.length > 0) yield last;
}

function* memoryChunks(bytes: Uint8Array): Generator<Buffer> {
  const buf = Buffer.from(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  for (let at = 0; at < buf.length; at += FILE_CHUNK_BYTES) yield buf.subarray(at, at + FILE_CHUNK_BYTES);
}

const EXPECTED = 'a CSV file that can be read';
const MEND = 'give the name of the export';

async function* fileChunks(file: string): AsyncGenerator<Buffer> {
  regularFileBytes(file, EXPECTED, MEND);
  try {
    for await (const chunk of createReadStream(file, { highWaterMark: FILE_CHUNK_BYTES })) {
      yield chunk as Buffer;
    }
  } catch (error) {
    const found = whyUnreadable(error);
    if (found !== undefined) throw BadInput.at({ file }, EXPECTED, found, MEND);
    throw new NotCompleted(`${file}: reading broke off: ${(error as Error).message}`);
  }
}
