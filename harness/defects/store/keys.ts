// Defects of the key under which a reading is stored.
import type { Damage } from '../../pipeline/damage.ts';
import type { Row } from '../../pipeline/row.ts';
import { defect } from '../defect.ts';
import { placeOf } from '../tools.ts';

const KEY_PLACES = ['id', 'boot', 'seq'].map(placeOf);
/** How many readings the memory for repeats holds. */
const REMEMBERED = 3;

function dedupeForgets(): Damage {
  const seen: string[] = [];
  return {
    store: { key: null, onRepeat: 'keep', strict: true },
    row: (row: Row) => {
      const key = KEY_PLACES.map((place) => row[place]).join(' ');
      if (seen.includes(key)) return undefined;
      seen.push(key);
      if (seen.length > REMEMBERED) seen.shift();
      return row;
    },
  };
}

export const KEY_DEFECTS = [
  defect(
    'store',
    {
      name: 'same-time-overwrite',
      happens:
        'The key is tracker and time, and an upsert lets the later reading of one instant overwrite the other.',
      breaks: ['ingest.complete'],
      cause: 'same-time',
    },
    { store: { key: ['id', 'at_ms'], onRepeat: 'replace', strict: true } },
  ),
  defect(
    'store',
    {
      name: 'boot-ignored',
      happens:
        'The key is tracker and number; after a reboot the numbers start again and are taken for repeats.',
      breaks: ['ingest.complete'],
      cause: 'boot-ignored',
    },
    { store: { key: ['id', 'seq'], onRepeat: 'keep', strict: true } },
  ),
  defect(
    'store',
    {
      name: 'no-dedupe',
      happens: 'The table has no key, and each delivery of a message is stored.',
      breaks: ['ingest.no-repeats'],
      cause: 'redelivery-stored',
    },
    { store: { key: null, onRepeat: 'keep', strict: true } },
  ),
  defect(
    'store',
    {
      name: 'dedupe-forgets',
      happens:
        'Repeats are told by a short memory instead of a key; one that comes later, or after a restart, is stored.',
      breaks: ['ingest.no-repeats'],
      cause: 'redelivery-stored',
    },
    dedupeForgets,
  ),
] as const;
