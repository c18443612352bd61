// Values and lists as words, for messages of one line.

const LONGEST = 60;

/** Text with quotes, on one line, cut where it is long. */
export function quoted(text: string): string {
  const cut = text.length > LONGEST ? `${text.slice(0, LONGEST)}…` : text;
  return oneLine(JSON.stringify(cut));
}

/** The text with every control character, line separator and bidirectional override written as an escape. */
export function oneLine(text: string): string {
  return text.replace(
    /[\p{Cc}\u061c\u200e\u200f\u2028\u2029\u202a-\u202e\u2066-\u2069]/gu,
    (c) => `\\u${c.charCodeAt(0).toString(16).padStart(4, '0')}`,
  );
}

/** Whether the text has no lone surrogate, and so can be written as UTF-8. */
export function isWellFormed(text: string): boolean {
  return !/\p{Surrogate}/u.test(text);
}

/** What a value is, in words. */
export function describe(value: unknown): string {
  if (value === undefined) return 'nothing';
  if (value === null) return 'an empty value';
  if (typeof value === 'string') return `the text ${quoted(value)}`;
  if (typeof value === 'number') return `the number ${value}`;
  if (typeof value === 'boolean') return String(value);
  if (Array.isArray(value)) return value.length === 0 ? 'an empty list' : `a list of ${value.length}`;
  return 'a mapping';
}

/** `a`, `a or b`, `one of a, b, c`; long lists are cut. */
export function oneOf(words: Iterable<string | number>): string {
  const list = [...words].map(String);
  if (list.length === 0) return 'nothing (there is none)';
  if (list.length <= 2) return list.join(' or ');
  const shown = list.slice(0, 30);
  return `one of ${shown.join(', ')}${list.length > shown.length ? `, … (${list.length} in all)` : ''}`;
}
