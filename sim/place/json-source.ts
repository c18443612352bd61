// A JSON file that is being read, and mistakes in it told with file, line, column and JSON pointer.
import { readFileSync } from 'node:fs';
import { isNode, LineCounter, parseDocument } from 'yaml';
import { BadInput } from '../errors.ts';

export interface JsonSource {
  readonly file: string;
  readonly root: unknown;
  /** The mistake at this JSON pointer (RFC 6901), to be thrown. */
  bad(pointer: string, expected: string, found: string, mend: string): BadInput;
}

/** Reads a JSON file. Throws BadInput where it can't be read or isn't JSON. */
export function readJson(file: string): JsonSource {
  let text: string;
  try {
    text = readFileSync(file, 'utf8');
  } catch (error) {
    const code = error instanceof Error && 'code' in error ? String(error.code) : 'an error';
    throw BadInput.at({ file }, 'a file that can be read', code, 'check the path');
  }
  return jsonSource(file, text);
}

/** The same for text already in memory; `file` is the name that mistakes are told with. */
export function jsonSource(file: string, text: string): JsonSource {
  // RFC 8259 section 8.1 lets a reader ignore a byte order mark.
  const json = text.startsWith('\uFEFF') ? text.slice(1) : text;
  let root: unknown;
  try {
    root = JSON.parse(json);
  } catch (error) {
    const said = error instanceof Error ? error.message : String(error);
    const position = /position (\d+)/.exec(said)?.[1];
    const where = position === undefined ? {} : lineAndColumn(json, Number(position));
    throw BadInput.at({ file, ...where }, 'JSON', said.replace(/\s+/g, ' '), 'correct the JSON');
  }
  return {
    file,
    root,
    bad: (pointer, expected, found, mend) =>
      BadInput.at({ file, pointer, ...whereIs(json, pointer) }, expected, found, mend),
  };
}

/** A value in short, for a message. */
export function shown(value: unknown): string {
  if (value === undefined) return 'nothing';
  const text = JSON.stringify(value) ?? typeof value;
  return text.length > 60 ? `${text.slice(0, 57)}...` : text;
}

export function isRecord(value: unknown): value is Readonly<Record<string, unknown>> {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}

function lineAndColumn(text: string, position: number): { line: number; column: number } {
  const before = text.slice(0, position).split('\n');
  return { line: before.length, column: (before.at(-1)?.length ?? 0) + 1 };
}

/** JSON is YAML too, and the YAML reader keeps positions. Only called when there is a mistake to tell. */
function whereIs(json: string, pointer: string): { line?: number; column?: number } {
  const lines = new LineCounter();
  const document = parseDocument(json, { lineCounter: lines });
  const path = pointer
    .split('/')
    .slice(1)
    .map((part) => part.replaceAll('~1', '/').replaceAll('~0', '~'));
  const node = document.getIn(path, true);
  if (!isNode(node) || !node.range) return {};
  const { line, col } = lines.linePos(node.range[0]);
  return { line, column: col };
}
