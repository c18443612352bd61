// Why readings have no row: what sets the missing apart from the found.
import { FIELDS, type Field, type Reading } from '../../sim/index.ts';
import { bestContrast, contrast, where } from './chance.ts';
import type { Hypothesis } from './hypothesis.ts';
import type { ReadingInstance } from './instances.ts';
import { BATCH_POSITION, BATCH_TORN, PAYLOAD_KIND, SIZE_LIMIT, TOPIC, TRACKER } from './missing-message.ts';
import { RESTART_GAP } from './missing-gaps.ts';
import { CAP_AT_ROUND, PAGE_EDGE, ROW_CAP } from './missing-ranks.ts';
import { STARTED_LATE, STOPPED } from './missing-runs.ts';
import { AHEAD, CLOCK_UNSET, LATE, SEQUENCE_WENT_BACK, TOO_CLOSE, WHEN_BUSY } from './missing-past.ts';

const NUMBERS = FIELDS.filter(
  (field): field is Extract<Field, { kind: 'number' }> => field.kind === 'number',
);
/** Numbers of the reading itself, not of what was measured. */
const COUNTERS: ReadonlySet<string> = new Set(['boot', 'seq']);

const SAME_TIME: Hypothesis<ReadingInstance> = contrast(
  'same-time',
  'Two readings of a tracker with one time measured became one row: the key needs more than tracker and time.',
  'store',
  (broken, sound) => {
    const key = ({ expected: { reading } }: ReadingInstance) => `${reading.id} ${reading.atMs}`;
    const found = new Map<string, number>();
    for (const one of sound) found.set(key(one), (found.get(key(one)) ?? 0) + 1);
    const missing = new Map<string, number>();
    for (const one of broken) missing.set(key(one), (missing.get(key(one)) ?? 0) + 1);
    return {
      covers: (one) => one.sameTimeAsOther ?? (found.get(key(one)) ?? 0) + (missing.get(key(one)) ?? 0) > 1,
      // The one that stayed is sound by the same cause.
      wouldBreak: (one) => (found.get(key(one)) ?? 0) > 1,
      say: () => 'another reading of the tracker has the same time measured',
    };
  },
);

function isSameContent(a: Reading, b: Reading): boolean {
  return FIELDS.every(({ key }) => key === 'seq' || key === 'boot' || key === 'atMs' || a[key] === b[key]);
}

const CONTENT_DEDUPE = where<ReadingInstance>(
  'content-dedupe',
  'A reading that equals the one before in all that was measured was taken for a repeat: compare identities instead.',
  'consumer',
  ({ expected, before }) => before !== undefined && isSameContent(expected.reading, before),
  'all that was measured equals the reading before',
);

const BOOT_IGNORED = where<ReadingInstance>(
  'boot-ignored',
  'The boot counter is no part of the key: after a reboot, sequence numbers that came before count as repeats.',
  'consumer',
  ({ expected: { reading }, highestSeq, seqOfEarlierBoot }) =>
    reading.boot > 1 && (seqOfEarlierBoot ?? reading.seq <= highestSeq),
  'the sequence number was used in an earlier boot',
);

const WITHOUT_POSITION = where<ReadingInstance>(
  'without-position',
  'Readings without a position were refused: indoors there is none, and the rest of the reading is sound.',
  'consumer',
  ({ expected }) => expected.reading.latDegE7 === null,
  'there is no position',
  ['without-fix', 'without-value'],
);

const WITHOUT_FRESH_FIX = where<ReadingInstance>(
  'without-fix',
  'Readings without a fresh fix were refused.',
  'consumer',
  ({ expected: { reading } }) => reading.fix === 'none' || reading.fix === 'last',
  'the fix is none or the last known position',
);

const WITHOUT_VALUE = contrast<ReadingInstance>(
  'without-value',
  'Readings in which one number is absent were refused as a whole.',
  'consumer',
  (broken, sound) =>
    bestContrast(
      NUMBERS.filter(({ nullable }) => nullable).map(({ key, name }) => ({
        covers: ({ expected }: ReadingInstance) => expected.reading[key] === null,
        say: () => `${name} is absent`,
      })),
      broken,
      sound,
    ),
);

const BELOW_ZERO = contrast<ReadingInstance>(
  'below-zero',
  'Readings with a number below zero were refused: look for an unsigned type or a range check.',
  'consumer',
  (broken, sound) =>
    bestContrast(
      NUMBERS.filter(({ key }) => !COUNTERS.has(key)).map(({ key, name }) => ({
        covers: ({ expected }: ReadingInstance) => (expected.reading[key] ?? 0) < 0,
        say: () => `${name} is below zero`,
      })),
      broken,
      sound,
    ),
);

export const MISSING_HYPOTHESES: readonly Hypothesis<ReadingInstance>[] = [
  SAME_TIME,
  CONTENT_DEDUPE,
  CLOCK_UNSET,
  BOOT_IGNORED,
  SEQUENCE_WENT_BACK,
  BATCH_POSITION,
  LATE,
  AHEAD,
  WITHOUT_POSITION,
  WITHOUT_FRESH_FIX,
  BELOW_ZERO,
  PAYLOAD_KIND,
  TOPIC,
  SIZE_LIMIT,
  CAP_AT_ROUND,
  BATCH_TORN,
  STOPPED,
  RESTART_GAP,
  STARTED_LATE,
  ROW_CAP,
  TOO_CLOSE,
  PAGE_EDGE,
  TRACKER,
  WITHOUT_VALUE,
  WHEN_BUSY,
];
