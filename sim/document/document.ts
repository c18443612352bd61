// A YAML 1.2 document (core schema) as plain JSON values, with the place of each value kept.
// JSON is YAML, so that a .json file can be read the same way.
import { readFileSync } from 'node:fs';
import {
  Composer,
  Document,
  isAlias,
  isMap,
  isNode,
  isScalar,
  isSeq,
  LineCounter,
  Parser,
  visit,
  type CST,
  type Node,
} from 'yaml';
import { BadInput, badInputLine, type Place } from '../errors.ts';
import { pointerParts } from './pointer.ts';
import { regularFileBytes, whyUnreadable } from './regular-file.ts';
import { oneLine, quoted } from './words.ts';

/** Most bytes of a scenario or contract file. */
export const MOST_BYTES = 4 * 1024 * 1024;
const MOST_DEPTH = 64;
/** Most mistakes of syntax that are told: what follows the first few is seldom more than their echo. */
const MOST_TOLD = 5;
const MOST_SYNTAX_WORDS = 120;

export interface SourceDocument {
  readonly file: string;
  /** JSON values only: no dates, no big integers, no shared parts. */
  readonly value: unknown;
  /** Where the value at a JSON pointer stands, or the nearest thing around it. */
  placeOf(pointer: string): Place;
  /** Where the key at a JSON pointer stands. */
  placeOfKey(pointer: string): Place;
}

/** The text of a regular file of at most 4 MiB in UTF-8; BadInput otherwise. */
export function readText(file: string): string {
  const [expected, mend] = ['a file that can be read', 'give the path of a file'];
  const size = regularFileBytes(file, expected, mend);
  if (size > MOST_BYTES) throw tooLarge(file, size);
  let bytes: Uint8Array;
  try {
    bytes = readFileSync(file);
  } catch (error) {
    throw BadInput.at({ file }, expected, whyUnreadable(error) ?? String(error), mend);
  }
  try {
    return new TextDecoder('utf-8', { fatal: true }).decode(bytes);
  } catch {
    throw BadInput.at({ file }, 'text in UTF-8', 'bytes that are none', 'save the file as UTF-8');
  }
}

function tooLarge(file: string, bytes: number): BadInput {
  return BadInput.at({ file }, `at most ${MOST_BYTES} bytes`, `${bytes} bytes`, 'make the file smaller');
}

/** Parses a document; `file` is only named in messages. */
export function parseDocument(text: string, file: string): SourceDocument {
  const bytes = Buffer.byteLength(text);
  if (bytes > MOST_BYTES) throw tooLarge(file, bytes);
  const lines = new LineCounter();
  const tokens = [...new Parser(lines.addNewLine).parse(text)];
  const at = (offset: number): Place => {
    const { line, col } = lines.linePos(offset);
    return { file, line: Math.max(line, 1), column: Math.max(col, 1) };
  };
  const wrong = new Map<number, string>();
  const add = (offset: number, expected: string, found: string, mend: string) => {
    if (!wrong.has(offset)) wrong.set(offset, badInputLine(at(offset), expected, found, mend));
  };
  const deep = findDeep(tokens);
  if (deep !== undefined) {
    throw BadInput.at(at(deep), `at most ${MOST_DEPTH} levels`, 'more', 'nest less deeply');
  }
  const composer = new Composer({
    version: '1.2',
    schema: 'core',
    // Checked below: the library compares every key with every other.
    uniqueKeys: false,
  });
  const [yaml = new Document(null), second] = composer.compose(tokens, true, text.length);
  if (second)
    add(second.range[0], 'one document', 'a second one', 'take out the line `---` and what follows');
  let tabs = false;
  for (const { code, message, pos } of [...yaml.errors, ...yaml.warnings]) {
    if (code !== 'TAB_AS_INDENT') {
      add(pos[0], 'YAML 1.2', syntaxWords(message), 'correct the syntax here');
    } else if (!tabs) {
      add(pos[0], 'YAML 1.2', 'a tab that indents a line', 'indent every line with spaces');
      tabs = true;
    }
  }
  if (wrong.size === 0) findUnplain(yaml.contents, add);
  if (wrong.size > 0) throw allOf(wrong);

  const root: Node | null = yaml.contents;
  const offsetOf = (node: unknown): number | undefined =>
    isNode(node) && node.range ? node.range[0] : undefined;

  const find = (pointer: string, wantKey: boolean): Place => {
    let node: unknown = root;
    let offset = offsetOf(root) ?? 0;
    const parts = pointerParts(pointer);
    for (const [i, part] of parts.entries()) {
      const step = child(node, part);
      if (step === undefined) break;
      node = step.value;
      const here = wantKey && i === parts.length - 1 ? step.key : step.value;
      offset = offsetOf(here) ?? offsetOf(step.key) ?? offset;
    }
    return { ...at(offset), pointer: oneLine(pointer) };
  };
  return {
    file,
    value: yaml.toJS({ maxAliasCount: 0 }),
    placeOf: (pointer) => find(pointer, false),
    placeOfKey: (pointer) => find(pointer, true),
  };
}

function child(node: unknown, part: string): { key: unknown; value: unknown } | undefined {
  if (isSeq(node)) {
    const value = node.items[Number(part)];
    return value === undefined ? undefined : { key: value, value };
  }
  if (!isMap(node)) return undefined;
  const pair = node.items.find(({ key }) => isScalar(key) && String(key.value) === part);
  return pair && { key: pair.key, value: pair.value };
}

/**
 * Offset of the first value nested too deeply. Looked for before composing, which recurses: an overflowing stack
 * can end the process there, past any catch.
 */
function findDeep(tokens: readonly CST.Token[]): number | undefined {
  const pending: { token: CST.Token; depth: number }[] = tokens.map((token) => ({ token, depth: 0 }));
  for (let next = pending.pop(); next; next = pending.pop()) {
    const { token, depth } = next;
    if (depth > MOST_DEPTH) return token.offset;
    if (token.type === 'document' && token.value) pending.push({ token: token.value, depth });
    if (!('items' in token)) continue;
    for (const { key, value } of token.items) {
      if (key) pending.push({ token: key, depth: depth + 1 });
      if (value) pending.push({ token: value, depth: depth + 1 });
    }
  }
  return undefined;
}

/** What YAML allows and we don't: anchors and aliases (they multiply), tags, keys that aren't text. */
function findUnplain(
  contents: Node | null,
  add: (offset: number, expected: string, found: string, mend: string) => void,
): void {
  visit(contents, (key, node) => {
    const offset = isNode(node) ? (node.range?.[0] ?? 0) : 0;
    if (isMap(node)) {
      const seen = new Set<unknown>();
      for (const { key: name } of node.items) {
        if (!isScalar(name)) continue;
        if (seen.has(name.value)) {
          const words = `the key ${quoted(String(name.value))} again`;
          add(name.range?.[0] ?? offset, 'each key once', words, 'keep one of the two');
        }
        seen.add(name.value);
      }
    }
    if (isAlias(node)) {
      add(
        offset,
        'a value',
        `the alias *${oneLine(node.source)}`,
        'write the value out (quote text that starts with *)',
      );
    } else if (isNode(node) && node.anchor !== undefined) {
      add(
        offset,
        'a value',
        `the anchor &${oneLine(node.anchor)}`,
        'take the anchor out (quote text that starts with &)',
      );
    } else if (isNode(node) && node.tag !== undefined && node.tag !== '') {
      add(
        offset,
        'a value',
        `the tag ${oneLine(node.tag)}`,
        'take the tag out (quote text that starts with !)',
      );
    } else if (key === 'key' && !(isScalar(node) && typeof node.value === 'string')) {
      add(offset, 'a key that is text', 'another one', 'write the key as text');
    }
    return undefined;
  });
}

/** The parser's message on one line; it may quote a whole paragraph. */
function syntaxWords(message: string): string {
  const words = oneLine(message.replace(/\.$/, ''));
  return words.length > MOST_SYNTAX_WORDS ? `${words.slice(0, MOST_SYNTAX_WORDS)}…` : words;
}

function allOf(wrong: ReadonlyMap<number, string>): BadInput {
  const [first = '', ...rest] = [...wrong].sort(([a], [b]) => a - b).map(([, line]) => line);
  const more = rest.length + 1 - MOST_TOLD;
  if (more <= 0) return new BadInput(first, rest);
  return new BadInput(first, [
    ...rest.slice(0, MOST_TOLD - 1),
    `… and ${more} more ${more === 1 ? 'mistake' : 'mistakes'}`,
  ]);
}
