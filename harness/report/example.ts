// One broken instance as text.
import { basename } from 'node:path';
import { oneLine } from '../../sim/index.ts';
import type { Example } from '../verdict/verdict.ts';
import { joined } from './lines.ts';

/** Where it is and what was found there: on one line where both fit. A file other than `csv` is named. */
export function exampleLines(example: Example, csv: string, width: number): string[] {
  const [where, values] = [whereOf(example, csv), valuesOf(example)];
  if (where.length + values.length < width) return [`${where} ${values}`.trim()];
  const further = joined(values.split(' '), width - 2).map((line) => `  ${line}`);
  return [...joined(where.split(' '), width), ...further];
}

function whereOf(example: Example, csv: string): string {
  return [
    example.tracker === undefined ? undefined : oneLine(shortened(example.tracker)),
    example.boot === undefined ? undefined : `boot ${example.boot}`,
    example.seq === undefined ? undefined : `seq ${example.seq}`,
    example.at === undefined ? undefined : oneLine(example.at),
    example.record === undefined ? undefined : `record ${example.record}${fileWords(example, csv)}`,
  ]
    .filter((part) => part !== undefined)
    .join(' · ');
}

function fileWords({ file }: Example, csv: string): string {
  return file === undefined || file === csv ? '' : ` of ${oneLine(basename(file))}`;
}

function valuesOf({ column, expected, found }: Example): string {
  if (expected === undefined && found === undefined) return '';
  const name = column === undefined ? '' : `${oneLine(shortened(column))}: `;
  return `${name}expected ${show(expected)}, found ${show(found)}`;
}

/** One line of text, with what can't be printed written out. */
function show(text: string | undefined): string {
  return text === undefined ? 'nothing' : oneLine(JSON.stringify(shortened(text)));
}

function shortened(text: string): string {
  return text.length > 80 ? `${text.slice(0, 77)}…` : text;
}
