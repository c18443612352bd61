// Texts whose bytes were read or written under another rule than UTF-8.
import { bestChange, change, rewrite } from './cells.ts';
import type { CellInstance } from './instances.ts';

const ASTRAL = /[\u{10000}-\u{10ffff}]/u;
const NOT_ASCII = /[^\0-\u007f]/;

export const NOT_BMP = change(
  'beyond-bmp-lost',
  'Characters beyond U+FFFF, such as emoji, were lost: a store or driver takes UTF-8 of at most three bytes.',
  'store',
  () => ({
    say: 'found = expected without its characters beyond U+FFFF',
    explains: ({ cell, expected }) => {
      const first = expected.search(ASTRAL);
      if (first < 0 || cell === expected) return false;
      // Left out, replaced by signs, or cut at the first of them.
      return cell === expected.slice(0, first) || matchesAround(cell, expected);
    },
    wouldBreak: ({ expected }) => ASTRAL.test(expected),
  }),
);

function matchesAround(cell: string, expected: string): boolean {
  const pattern = Array.from(expected)
    .map((sign) => (ASTRAL.test(sign) ? '[?\\ufffd\\u25a1]{0,4}' : escapeRegExp(sign)))
    .join('');
  return new RegExp(`^${pattern}$`).test(cell);
}

function escapeRegExp(text: string): string {
  return text.replace(/[\\^$.*+?()[\]{}|/-]/g, '\\$&');
}

const windows1252 = new TextDecoder('windows-1252');
const utf8 = new TextDecoder('utf-8');

/** Each pair: how the bytes were written and read. */
const MISREADINGS: readonly (readonly [string, (text: string) => string])[] = [
  ['UTF-8 read as ISO 8859-1', (text) => Buffer.from(text).toString('latin1')],
  ['UTF-8 read as Windows-1252', (text) => windows1252.decode(Buffer.from(text))],
  [
    'UTF-8 read as ISO 8859-1 twice',
    (text) => Buffer.from(Buffer.from(text).toString('latin1')).toString('latin1'),
  ],
  [
    'UTF-8 read as Windows-1252 twice',
    (text) => windows1252.decode(Buffer.from(windows1252.decode(Buffer.from(text)))),
  ],
  ['bytes of ISO 8859-1 read as UTF-8', (text) => utf8.decode(Buffer.from(text, 'latin1'))],
  [
    'what ISO 8859-1 lacks replaced by ?, and its bytes read as UTF-8',
    (text) => utf8.decode(Buffer.from(text.replace(/[^\0-\u00ff]/gu, '?'), 'latin1')),
  ],
  ['what ISO 8859-1 lacks replaced by ?', (text) => text.replace(/[^\0-\u00ff]/gu, '?')],
  ['what ISO 8859-1 lacks replaced by ? per UTF-16 unit', (text) => text.replace(/[^\0-\u00ff]/g, '?')],
  ['what ASCII lacks replaced by ?', (text) => text.replace(/[^\0-\u007f]/gu, '?')],
  ['what ASCII lacks replaced by ? per UTF-16 unit', (text) => text.replace(/[^\0-\u007f]/g, '?')],
  ['what ASCII lacks left out', (text) => text.replace(/[^\0-\u007f]/gu, '')],
  ['what ASCII lacks replaced by U+FFFD', (text) => text.replace(/[^\0-\u007f]/gu, '\ufffd')],
  [
    'bytes of UTF-8 each replaced by U+FFFD',
    (text) =>
      utf8.decode(Buffer.from(text)).replace(/[^\0-\u007f]/gu, (c) => '\ufffd'.repeat(Buffer.byteLength(c))),
  ],
];

export const WRONG_CHARSET = change(
  'wrong-charset',
  'Bytes were written in one character encoding and read in another: name UTF-8 at each step.',
  'store',
  (broken) =>
    bestChange(
      MISREADINGS.map(([how, misread]) => ({
        say: `found = expected, ${how},`,
        explains: ({ cell, expected }: CellInstance) =>
          NOT_ASCII.test(expected) && cell !== expected && cell === misread(expected),
        wouldBreak: ({ expected }: CellInstance) => misread(expected) !== expected,
      })),
      broken,
    ),
);

const NAMED: Readonly<Record<string, string>> = {
  '&': '&amp;',
  '<': '&lt;',
  '>': '&gt;',
  '"': '&quot;',
};

function entities(text: string, apostrophe: string): string {
  return text.replace(/[&<>"']/g, (sign) => NAMED[sign] ?? apostrophe);
}

export const ESCAPED = rewrite(
  'escaped',
  'The text was escaped for another language, such as HTML, JSON or a URL, and never turned back.',
  'store',
  'found = expected, escaped,',
  [
    (text) => entities(text, '&#39;'),
    (text) => entities(text, '&#x27;'),
    (text) => entities(text, '&apos;'),
    (text) => entities(text, "'"),
    (text) => entities(text, "'").replaceAll('&quot;', '"'),
    (text) => entities(text, '&#39;').replaceAll('&quot;', '&#34;'),
    (text) => JSON.stringify(text).slice(1, -1),
    (text) => JSON.stringify(text),
    (text) => text.replace(/[^\0-\u007f]/g, unicodeEscape),
    (text) =>
      JSON.stringify(text)
        .replace(/[^\0-\u007f]/g, unicodeEscape)
        .slice(1, -1),
    (text) => text.replace(/(["'\\])/g, '\\$1'),
    (text) => text.replaceAll('\\', '\\\\'),
    (text) => text.replaceAll("'", "''"),
    (text) => encoded(text),
    (text) => encoded(text).replaceAll('%20', '+'),
  ],
);

function unicodeEscape(unit: string): string {
  return `\\u${unit.charCodeAt(0).toString(16).padStart(4, '0')}`;
}

function encoded(text: string): string {
  // A lone surrogate can't be encoded.
  return encodeURIComponent(
    text.replace(/[\ud800-\udbff](?![\udc00-\udfff])|(?<![\ud800-\udbff])[\udc00-\udfff]/g, ''),
  );
}
