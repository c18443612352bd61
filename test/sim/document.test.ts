import fc from 'fast-check';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { MOST_BYTES, parseDocument, readText } from '../../sim/document/document.ts';
import { Mistakes } from '../../sim/document/mistakes.ts';
import { editDistance, nearestWord } from '../../sim/document/nearest.ts';
import { below, pointerParts } from '../../sim/document/pointer.ts';
import { BadInput } from '../../sim/errors.ts';
import { linesOf } from '../support/bad-input.ts';

const parse = (text: string) => parseDocument(text, 'a.yaml');

describe('documents', () => {
  // YAML 1.2.2 section 10.3.2, core schema: the words and forms that YAML 1.1 took for booleans,
  // sexagesimals and dates are text; 0o14 is octal, 0x1F hexadecimal, a leading 0 is decimal.
  it('reads the core schema of YAML 1.2', () => {
    const text = 'a: no\nb: 1:30\nc: 2031-03-03\nd: 010\ne: 0x1F\nf: 0o14\ng: ~\nh: on\ni: true\nj: 1e3\n';
    expect(parse(text).value).toEqual({
      a: 'no',
      b: '1:30',
      c: '2031-03-03',
      d: 10,
      e: 31,
      f: 12,
      g: null,
      h: 'on',
      i: true,
      j: 1000,
    });
  });

  it('knows where a value, a key and a missing value stand', () => {
    const document = parse('a:\n  - b: 1\n    c/d: [x, y]\ne:\n');
    expect(document.placeOf('/a/0/b')).toEqual({ file: 'a.yaml', line: 2, column: 8, pointer: '/a/0/b' });
    expect(document.placeOf('/a/0/c~1d/1')).toMatchObject({ line: 3, column: 14 });
    expect(document.placeOfKey('/a/0/c~1d')).toMatchObject({ line: 3, column: 5 });
    expect(document.placeOf('/a/0/nothing/here')).toMatchObject({ line: 2, column: 5 });
    expect(document.placeOf('')).toMatchObject({ line: 1, column: 1 });
  });

  it('counts columns in a file with CRLF', () => {
    expect(parse('a: 1\r\nb: 2\r\n').placeOf('/b')).toMatchObject({ line: 2, column: 4 });
  });

  it.each([
    ['a: [1,\n', 'a.yaml:2:1: expected YAML 1.2'],
    ['a: 1\na: 2\n', 'a.yaml:2:1: expected each key once, found the key "a" again'],
    ['b: &x 1\n', 'found the anchor &x'],
    ['b: &x 1\na: *x\n', 'a.yaml:2:4: expected a value, found the alias *x'],
    ['a: &a [*a]\n', 'found the alias *a'],
    ['a: !!str 1\n', 'found the tag'],
    ['a: !own 1\n', 'expected YAML 1.2'],
    ['1: x\n', 'a.yaml:1:1: expected a key that is text'],
    ['? [a]\n: x\n', 'expected a key that is text'],
    ['a: 1\n---\nb: 2\n', 'a.yaml:2:1: expected one document, found a second one'],
    ['\ta: 1\n', 'expected YAML 1.2'],
  ])('refuses %j', (text, line) => {
    expect(linesOf(() => parse(text)).join('\n')).toContain(line);
  });

  it('refuses what would exhaust it', () => {
    const refusal = (text: string) => linesOf(() => parse(text)).join('\n');
    expect(refusal('['.repeat(100_000))).toContain('expected at most 64 levels');
    expect(refusal('['.repeat(200) + ']'.repeat(200))).toContain('expected at most 64 levels');
    expect(refusal('x'.repeat(MOST_BYTES + 1))).toContain(`expected at most ${MOST_BYTES} bytes`);
  });

  it('gets through many keys, and refuses aliases before it follows them', () => {
    const many = Array.from({ length: 20_000 }, (_, i) => `k${i}: 1`).join('\n');
    expect(Object.keys(parse(many).value as object)).toHaveLength(20_000);
    const bomb = ['a: &a [x]'];
    for (let i = 0; i < 30; i++) bomb.push(`k${i}: &k${i} [*${i === 0 ? 'a' : `k${i - 1}`}, *a]`);
    expect(linesOf(() => parse(bomb.join('\n')))[0]).toContain('the anchor &a');
  });

  it('reads back what JSON wrote', () => {
    // JSON is a subset of YAML 1.2 (YAML 1.2.2 section 1.3), -0 and lone surrogates aside.
    const json = fc.jsonValue({ maxDepth: 4 }).filter((value) => !JSON.stringify(value).includes('\\ud'));
    fc.assert(
      fc.property(json, (value) => {
        const text = JSON.stringify(value);
        expect(JSON.stringify(parse(text).value)).toBe(text);
      }),
      { seed: 7, numRuns: 200 },
    );
  });
});

describe('a text that is no YAML', () => {
  it('is told in a few lines', () => {
    const lines = linesOf(() => parse('a: b: c\n'.repeat(40)));
    expect(lines).toHaveLength(6);
    expect(lines.at(-1)).toBe('… and 35 more mistakes');
    expect(linesOf(() => parse('a: b: c\n'.repeat(6))).at(-1)).toBe('… and 1 more mistake');
    expect(linesOf(() => parse('a: b: c\n'.repeat(5)))).toHaveLength(5);
  });

  it('is told once where tabs indent it', () => {
    expect(linesOf(() => parse('a:\n\t- b: 1\n\t  c: 2\n\t\td: 3\n'))).toEqual([
      'a.yaml:2:1: expected YAML 1.2, found a tab that indents a line. Mend: indent every line with spaces.',
    ]);
  });

  it('is not quoted at length', () => {
    const [line = ''] = linesOf(() => parse(`a: 1\n${'word '.repeat(200)}\n`));
    expect(line.length).toBeLessThan(220);
  });
});

describe('files', () => {
  const folder = mkdtempSync(join(tmpdir(), 'document-'));
  afterAll(() => rmSync(folder, { recursive: true }));

  it('says why a file cannot be read', () => {
    const bytes = join(folder, 'bytes.yaml');
    writeFileSync(bytes, Uint8Array.of(0x61, 0xff));
    expect(linesOf(() => readText(join(folder, 'none.yaml')))[0]).toContain('found nothing there');
    expect(linesOf(() => readText(join(bytes, 'inside.yaml')))[0]).toContain('found nothing there');
    expect(linesOf(() => readText(folder))[0]).toContain('found a folder');
    expect(linesOf(() => readText('/dev/zero'))[0]).toContain('found a pipe, socket or device');
    expect(linesOf(() => readText('a'.repeat(5000)))[0]).toContain('found a name that is too long');
    expect(linesOf(() => readText(bytes))[0]).toContain('expected text in UTF-8');
  });
});

describe('pointers', () => {
  // RFC 6901 section 5.
  it.each([
    ['', []],
    ['/foo/0', ['foo', '0']],
    ['/', ['']],
    ['/a~1b', ['a/b']],
    ['/m~0n', ['m~n']],
    ['/c%d', ['c%d']],
  ])('takes %j apart and puts it together', (pointer, parts) => {
    expect(pointerParts(pointer)).toEqual(parts);
    expect(below('', ...parts)).toBe(pointer);
  });
});

describe('nearest word', () => {
  // kitten/sitting: the worked example of Levenshtein distance in textbooks; ca/abc = 3 tells the optimal string
  // alignment distance from the unrestricted one, 2 (both from memory).
  it.each([
    ['kitten', 'sitting', 3],
    ['ca', 'abc', 3],
    ['shwos', 'shows', 1],
    ['', 'abc', 3],
    ['same', 'same', 0],
  ])('finds %s and %s to be %i apart', (a, b, distance) => {
    expect(editDistance(a, b)).toBe(distance);
    expect(editDistance(b, a)).toBe(distance);
  });

  it('offers a word only where one is near', () => {
    expect(nearestWord('coast-raod', ['upland-road', 'coast-road'])).toBe('coast-road');
    expect(nearestWord('Motion', ['motion', 'sky'])).toBe('motion');
    expect(nearestWord('zebra', ['motion', 'sky'])).toBeUndefined();
  });
});

describe('mistakes', () => {
  it('tells all in the order of the file, each once, and stops at a hundred', () => {
    const mistakes = new Mistakes(parse('a: 1\nb: 2\n'));
    mistakes.add('/b', 'x', 'y', 'z');
    mistakes.add('/a', 'x', 'y', 'z');
    mistakes.add('/a', 'x', 'y', 'z');
    expect(linesOf(() => mistakes.throwIfAny())).toEqual([
      'a.yaml:1:4: /a: expected x, found y. Mend: z.',
      'a.yaml:2:4: /b: expected x, found y. Mend: z.',
    ]);
    expect([mistakes.within('/a'), mistakes.within('/c')]).toEqual([true, false]);
    for (let i = 0; i < 200; i++) mistakes.add('/b', `x${i}`, 'y', 'z');
    const lines = linesOf(() => mistakes.throwIfAny());
    expect(lines.at(-1)).toBe('a.yaml: only the first 100 mistakes are told.');
    expect(lines).toHaveLength(100);
  });

  it('keeps every message on one line', () => {
    const lines = linesOf(() => parse('"a\\nb": 1\n"a\\nb": 2\n'));
    expect(lines).toHaveLength(1);
    expect(lines[0]).not.toContain('\n');
    expect(new BadInput('x').also).toEqual([]);
  });
});
