// Missing readings set apart by their time and number, against those that their tracker sent before.
import { DAY_MS, durationText } from '../../sim/index.ts';
import { bestContrast, contrast, threshold } from './chance.ts';
import type { ReadingInstance } from './instances.ts';

export const CLOCK_UNSET = contrast<ReadingInstance>(
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

export const SEQUENCE_WENT_BACK = contrast<ReadingInstance>(
  'sequence-went-back',
  'A sequence number no higher than one before was taken for an old repeat: numbers start again on reboot, and batches come late.',
  'consumer',
  (broken, sound) =>
    bestContrast(
      [
        {
          covers: ({ expected: { reading }, highestSeq }) => reading.seq <= highestSeq,
          say: () => 'the sequence number is no higher than one before',
        },
        // Some allow for messages that overtake each other.
        threshold(
          {
            of: ({ expected: { reading }, highestSeq }) => highestSeq - reading.seq,
            side: 'above',
            from: 1,
            show: String,
            say: (bound, beside) =>
              `the sequence number lies ${bound} or more below one before, where ${beside} below came through`,
          },
          broken,
          sound,
        ),
      ],
      broken,
      sound,
    ),
);

export const LATE = contrast<ReadingInstance>(
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
        threshold(
          {
            of: ({ expected, newestBeforeMs = Number.NaN }) => finite(newestBeforeMs - expected.reading.atMs),
            side: 'above',
            from: 1,
            show: durationText,
            say: (bound) =>
              `measured ${bound} or more before one of its tracker that was sent earlier or stands before it in its batch`,
          },
          broken,
          sound,
        ),
      ],
      broken,
      sound,
    ),
);

export const AHEAD = contrast<ReadingInstance>(
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

export const TOO_CLOSE = contrast<ReadingInstance>(
  'too-close',
  'Readings that follow another too closely were dropped: look for a rate limit or a thinning step.',
  'consumer',
  (broken, sound) => {
    const since = sinceFound(sound);
    return threshold(
      {
        of: (one) => distance(one.sinceFoundMs ?? since(one)),
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

/** NaN where nothing came before: such a reading says nothing. */
function finite(ms: number): number {
  return Number.isFinite(ms) ? ms : Number.NaN;
}

/** A reading measured before the last one found is late, not close to it. */
function distance(ms: number): number {
  return ms >= 0 ? finite(ms) : Number.NaN;
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

/** Of those that come at once, some are taken. */
const BUSY_PRECISION = 0.25;

export const WHEN_BUSY = contrast<ReadingInstance>(
  'dropped-when-busy',
  'Readings were lost where many came at once: look for a bounded queue, QoS 0 between parts, or a full connection pool.',
  'consumer',
  (broken, sound) => {
    const together = sentTogether([...broken, ...sound]);
    return bestContrast(
      [
        threshold(
          {
            of: (one) => one.sentTogether ?? together(one),
            side: 'above',
            from: 3,
            show: String,
            say: (bound, beside) =>
              `${bound} or more were sent within a second; ${beside} at once came through`,
            leastPrecision: BUSY_PRECISION,
          },
          broken,
          sound,
        ),
        threshold(
          {
            // One large message is no burst.
            of: ({ ownBurst = Number.NaN, expected }) =>
              ownBurst > expected.emission.readings.length ? ownBurst : 0,
            side: 'above',
            from: 3,
            show: String,
            say: (bound, beside) =>
              `with its message, its tracker had sent ${bound} readings or more within a second, in several messages; up to ${beside} came through`,
            leastPrecision: BUSY_PRECISION,
          },
          broken,
          sound,
        ),
      ],
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
