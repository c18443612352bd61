// Defects of text on its way into the store.
import { defect } from '../defect.ts';
import { storingText } from '../tools.ts';

const text = (name: string, happens: string, cause: string, change: (text: string) => string) =>
  defect('store', { name, happens, breaks: ['values.text'], cause }, storingText(['label'], change));

const LONGEST = 32;
const ENTITIES: Readonly<Record<string, string>> = { '&': '&amp;', '<': '&lt;', '>': '&gt;', '"': '&quot;' };

export const TEXT_DEFECTS = [
  text(
    'text-cut',
    'The column holds 32 characters, and the database cuts what is longer.',
    'text-cut',
    (label) => label.slice(0, LONGEST),
  ),
  text('case-folded', 'Labels are made lower case so that a search finds them.', 'case-folded', (label) =>
    label.toLowerCase(),
  ),
  text('trimmed', 'A form library trims spaces off both ends of every text.', 'trimmed', (label) =>
    label.trim(),
  ),
  text(
    'normalised',
    'The database driver composes letters and accents (Unicode NFC).',
    'normalised',
    (label) => label.normalize('NFC'),
  ),
  text(
    'emoji-lost',
    'The character set of the column has at most three bytes a character, and the rest becomes question marks.',
    'beyond-bmp-lost',
    (label) => label.replaceAll(/[\u{10000}-\u{10ffff}]/gu, '?'),
  ),
  text(
    'wrong-charset',
    'UTF-8 bytes are taken for Latin-1 by the database connection.',
    'wrong-charset',
    (label) => Buffer.from(label).toString('latin1'),
  ),
  text(
    'newline-to-space',
    'Line ends are turned into spaces so that logs keep to one line.',
    'line-ends-changed',
    (label) => label.replaceAll(/\r?\n/g, ' '),
  ),
  text(
    'leading-zeros-lost',
    'A label of digits is taken for a number on the way, and comes back without its zeros.',
    'leading-zeros-lost',
    (label) => (/^0+\d+$/.test(label) ? String(Number(label)) : label),
  ),
  text(
    'text-escaped',
    'Text is escaped for HTML when it is stored instead of when it is shown.',
    'escaped',
    (label) => label.replaceAll(/[&<>"]/g, (sign) => ENTITIES[sign] ?? sign),
  ),
  text(
    'ids-as-double',
    'A long label of digits is kept as a double, which has no room for more than 2^53.',
    'beyond-2^53',
    (label) => (/^\d{16,}$/.test(label) ? BigInt(Number(label)).toString() : label),
  ),
] as const;
