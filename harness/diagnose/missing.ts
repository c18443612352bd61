// Why readings have no row: what sets the missing apart from the found.
import { DAY_MS, durationText, FIELDS, type Field, type Reading } from '../../sim/index.ts';
import { bestContrast, contrast, threshold, where } from './chance.ts';
import type { Hypothesis } from './hypothesis.ts';
import type { ReadingInstance } from './instances.ts';
import { BATCH_POSITION, BATCH_TORN, PAYLOAD_KIND, SIZE_LIMIT, TOPIC, TRACKER } from './missing-message.ts';
import { CAP_AT_ROUND, PAGE_EDGE, RESTART_GAP, ROW_CAP, STARTED_LATE, STOPPED } from './missing-runs.ts';

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

const CLOCK_UNSET = contrast<ReadingInstance>(
  'clock-unset',
  'Readings made before the clock was set carry a time of long ago and were refused for it.',
  'consumer',
  (broken, sound) =>
    bestContrast(
      [
        { covers: ({ expected }) => expected.reading.clock === 'unset', say: () => 'the clock was not set' },
        threshold(
          {
            of: ({ expected }) => expected.emission.atMs - expected.reading.atMs,
            side: 'above',
            from: 365 * DAY_MS,
            show: durationText,
            say: (bound) => `the time measured is ${bound} or more in the past`,
          },
          broken,
          sound,
        ),
      ],
      broken,
      sound,
    ),
);

const BOOT_IGNORED = where<ReadingInstance>(
  'boot-ignored',
  'The boot counter is no part of the key: after a reboot, sequence numbers that came before count as repeats.',
  'consumer',
  ({ expected: { reading }, highestSeq, seqOfEarlierBoot }) =>
    reading.boot > 1 && (seqOfEarlierBoot ?? reading.seq <= highestSeq),
  'the sequence number was used in an earlier boot',
);

const SEQUENCE_WENT_BACK = where<ReadingInstance>(
  'sequence-went-back',
  'A sequence number no higher than one before was taken for an old repeat: numbers start again on reboot, and batches come late.',
  'consumer',
  ({ expected: { reading }, highestSeq }) => reading.seq <= highestSeq,
  'the sequence number is no higher than one before',
);

const LATE = contrast<ReadingInstance>(
  'late-dropped',
  'Readings that come late were dropped: look for a watermark, a lateness limit, or a time window that had closed.',
  'consumer',
  (broken, sound) =>
    bestContrast(
      [
        threshold(
          {
            of: ({ expected }) => expected.emission.atMs - expected.reading.atMs,
            side: 'above',
            from: 1,
            show: durationText,
            say: (bound, beside) =>
              `sent ${bound} or more after it was measured, where ${beside} came through`,
          },
          broken,
          sound,
        ),
        threshold(
          {
            of: ({ expected, latestSentMs }) =>
              Number.isFinite(latestSentMs) ? latestSentMs - expected.reading.atMs : Number.NaN,
            side: 'above',
            from: 1,
            show: durationText,
            say: (bound) => `measured ${bound} or more before one of its tracker that was sent earlier`,
          },
          broken,
          sound,
        ),
      ],
      broken,
      sound,
    ),
);

const AHEAD = contrast<ReadingInstance>(
  'time-ahead',
  "Readings whose time lies ahead of the pipeline's were refused: a tracker's clock may run ahead.",
  'consumer',
  (broken, sound) =>
    threshold(
      {
        of: ({ expected }) => expected.reading.atMs - expected.emission.atMs,
        side: 'above',
        from: 1,
        show: durationText,
        say: (bound) => `the time measured is ${bound} or more ahead of the time of sending`,
      },
      broken,
      sound,
    ),
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

const TOO_CLOSE = contrast<ReadingInstance>(
  'too-close',
  'Readings that follow another too closely were dropped: look for a rate limit or a thinning step.',
  'consumer',
  (broken, sound) => {
    const since = sinceFound(sound);
    return threshold(
      {
        of: (one) => finite(one.sinceFoundMs ?? since(one)),
        side: 'below',
        show: durationText,
        say: (bound, beside) =>
          `measured ${bound} or less after the last one found; found ones are ${beside} apart`,
      },
      broken,
      sound,
    );
  },
);

/** Nothing was found before: such a reading says nothing of distances. */
function finite(ms: number): number {
  return Number.isFinite(ms) ? ms : Number.NaN;
}

/** Time since the tracker's found reading before, as far as the sample shows it. */
function sinceFound(sound: readonly ReadingInstance[]): (one: ReadingInstance) => number {
  const times = new Map<string, number[]>();
  for (const { expected } of sound) {
    const list = times.get(expected.reading.id);
    if (list) list.push(expected.reading.atMs);
    else times.set(expected.reading.id, [expected.reading.atMs]);
  }
  for (const list of times.values()) list.sort((a, b) => a - b);
  return ({ expected: { reading } }) => {
    const list = times.get(reading.id) ?? [];
    let [low, high] = [0, list.length];
    while (low < high) {
      const middle = (low + high) >> 1;
      if ((list[middle] ?? Number.POSITIVE_INFINITY) < reading.atMs) low = middle + 1;
      else high = middle;
    }
    const before = list[low - 1];
    return before === undefined ? Number.NaN : reading.atMs - before;
  };
}

const WHEN_BUSY = contrast<ReadingInstance>(
  'dropped-when-busy',
  'Readings were lost where many came at once: look for a bounded queue, QoS 0 between parts, or a full connection pool.',
  'consumer',
  (broken, sound) => {
    const together = sentTogether([...broken, ...sound]);
    return threshold(
      {
        of: (one) => one.sentTogether ?? together(one),
        side: 'above',
        from: 3,
        show: String,
        say: (bound, beside) => `${bound} or more were sent within a second; ${beside} at once came through`,
        // Of those that come at once, some are taken.
        leastPrecision: 0.25,
      },
      broken,
      sound,
    );
  },
);

/** Messages of the same second; a batch is one of them. */
function sentTogether(all: readonly ReadingInstance[]): (one: ReadingInstance) => number {
  const bySecond = new Map<number, Set<unknown>>();
  const second = ({ expected }: ReadingInstance): number => Math.floor(expected.emission.atMs / 1000);
  for (const one of all) {
    const messages = bySecond.get(second(one));
    if (messages) messages.add(one.expected.emission);
    else bySecond.set(second(one), new Set([one.expected.emission]));
  }
  return (one) => bySecond.get(second(one))?.size ?? 0;
}

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
