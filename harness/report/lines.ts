// Text for a terminal: numbers in words, colour, and lines that fit.
// Whatever a file could bring in is escaped: a cell must not command the terminal that shows it.
import { oneLine } from '../../sim/index.ts';

export interface Style {
  readonly colour: boolean;
  readonly width: number;
}

export function paint(text: string, code: string, style: Style): string {
  return style.colour ? `\u001b[${code}m${text}\u001b[0m` : text;
}

/** 12345 → `12,345`. */
export function count(n: number): string {
  return String(n).replace(/\B(?=(\d{3})+$)/g, ',');
}

/** 1 → `1 row`, 12345 → `12,345 rows`. */
export function many(n: number, thing: string): string {
  return `${count(n)} ${thing}${n === 1 ? '' : 's'}`;
}

/** Lines of at most `width` characters, longer words aside; nothing in them is a control character. */
export function wrap(text: string, width: number): string[] {
  return joined(
    text
      .trim()
      .split(/\s+/)
      .map((word) => oneLine(word)),
    width,
  );
}

/** Words with one space between, as many on a line as fit. */
export function joined(words: readonly string[], width: number): string[] {
  const lines: string[] = [];
  let line: string | undefined;
  for (const word of words) {
    if (line !== undefined && line.length + 1 + word.length > width) {
      lines.push(line);
      line = word;
    } else {
      line = line === undefined ? word : `${line} ${word}`;
    }
  }
  if (line !== undefined && line !== '') lines.push(line);
  return lines;
}

/** Long whole numbers in words get their commas; ids and decimals stay. */
export function grouped(words: string): string {
  return words.replace(/(?<![\d.,-])\d{4,9}(?![\d.,-])/g, (digits) => count(Number(digits)));
}
