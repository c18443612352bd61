// Each known way to lose readings, done to real ones, is named first; pairs of them are both named.
import { describe, expect, it } from 'vitest';
import { diagnose, MISSING_HYPOTHESES, type ReadingInstance } from '../../harness/diagnose/index.ts';
import { FIELDS } from '../../sim/index.ts';
import { EXPORTED, SENT, split } from './diagnose-support.ts';

interface Case {
  readonly cause: string;
  readonly lost: (one: ReadingInstance) => boolean;
  readonly evidence: RegExp;
  readonly all?: readonly ReadingInstance[];
  /** Causes that explain as much, in these readings. */
  readonly rivals?: readonly string[];
  readonly sure?: 'likely' | 'possible';
}

const lateness = ({ expected }: ReadingInstance): number => expected.emission.atMs - expected.reading.atMs;
const ids = [...new Set(SENT.map(({ expected }) => expected.reading.id))];
const [idA = '', idB = ''] = ids;
const middle = SENT[Math.floor(SENT.length / 2)]?.arrival ?? 0;

/** Readings as the pipeline's own state sees them, one after another. */
function inTurn(
  all: readonly ReadingInstance[],
  keep: (one: ReadingInstance) => boolean,
): (one: ReadingInstance) => boolean {
  const lost = new Set(all.filter((one) => !keep(one)));
  return (one) => lost.has(one);
}

function rateLimited(leastMs: number): (one: ReadingInstance) => boolean {
  const last = new Map<string, number>();
  return inTurn(EXPORTED, ({ expected: { reading } }) => {
    const before = last.get(reading.id);
    if (before !== undefined && reading.atMs - before < leastMs) return false;
    last.set(reading.id, reading.atMs);
    return true;
  });
}

/** Every third reading is measured at the time of the one before. */
const TWINS = SENT.map((one, k): ReadingInstance => {
  const { before, expected } = one;
  return k % 30 === 0 && before
    ? {
        ...one,
        sameTimeAsOther: true,
        expected: { ...expected, reading: { ...expected.reading, atMs: before.atMs } },
      }
    : { ...one, sameTimeAsOther: false };
});

/** Some readings equal the one before in all that was measured. */
const EQUALS = SENT.map((one, k): ReadingInstance => {
  const { before, expected } = one;
  if (k % 30 !== 0 || !before) return one;
  const { seq, boot, atMs } = expected.reading;
  return { ...one, expected: { ...expected, reading: { ...before, seq, boot, atMs } } };
});

const isEqual = ({ before, expected }: ReadingInstance): boolean =>
  before !== undefined &&
  FIELDS.every(({ key }) => ['seq', 'boot', 'atMs'].includes(key) || before[key] === expected.reading[key]);

/** Bursts: many trackers report in the same second. */
const BURSTS = SENT.map((one, k): ReadingInstance => ({ ...one, sentTogether: k % 100 < 30 ? 30 : 2 }));

/** A label of one tracker makes its batches of another size. */
const CASES: readonly Case[] = [
  {
    cause: 'restart-gap',
    lost: ({ arrival }) => arrival >= middle && arrival < middle + 40,
    evidence: /order of arrival they are one stretch, such as messages/,
  },
  {
    cause: 'stopped-receiving',
    lost: ({ arrival }) => arrival >= middle,
    evidence: new RegExp(`from message ${middle} on`),
  },
  {
    cause: 'stopped-receiving',
    lost: ({ arrival, expected }) => expected.reading.id === idA && arrival >= middle,
    evidence: /nothing came of tracker \d{15} from its message/,
  },
  { cause: 'started-late', lost: ({ arrival }) => arrival < 300, evidence: /before message 300/ },
  {
    cause: 'same-time',
    all: TWINS,
    lost: ({ sameTimeAsOther }) => sameTimeAsOther === true,
    evidence: /same time measured/,
  },
  { cause: 'content-dedupe', all: EQUALS, lost: isEqual, evidence: /equals the reading before/ },
  {
    cause: 'boot-ignored',
    lost: ({ expected, seqOfEarlierBoot }) => expected.reading.boot > 1 && seqOfEarlierBoot === true,
    evidence: /earlier boot/,
  },
  {
    cause: 'sequence-went-back',
    lost: ({ expected, highestSeq }) => expected.reading.seq <= highestSeq,
    evidence: /no higher than one before/,
  },
  {
    cause: 'sequence-went-back',
    lost: ({ expected, highestSeq }) => highestSeq - expected.reading.seq >= 8,
    evidence: /lies 8 or more below one before, where [0-7] below came through/,
  },
  {
    cause: 'late-dropped',
    lost: ({ newestBeforeMs = 0, expected }) => newestBeforeMs - expected.reading.atMs > 1_000_000,
    evidence: /sent earlier or stands before it in its batch/,
    // Numbers that say nothing of the order.
    all: SENT.filter(({ expected }) => expected.reading.clock !== 'unset').map((one) => ({
      ...one,
      highestSeq: -1,
      seqOfEarlierBoot: false,
    })),
  },
  {
    cause: 'late-dropped',
    lost: (one) => lateness(one) > 600_000 && one.expected.reading.clock !== 'unset',
    evidence: /sent 11min[\w.]* or more after it was measured/,
    all: SENT.filter(({ expected }) => expected.reading.clock !== 'unset'),
  },
  {
    cause: 'clock-unset',
    lost: ({ expected }) => expected.reading.clock === 'unset',
    evidence: /clock was not set/,
    rivals: ['late-dropped'],
  },
  { cause: 'time-ahead', lost: (one) => lateness(one) < -60_000, evidence: /ahead of the time of sending/ },
  { cause: 'batch-position', lost: ({ expected }) => expected.inBatch > 0, evidence: /place 2 or later/ },
  { cause: 'batch-position', lost: ({ expected }) => expected.inBatch >= 10, evidence: /place 11 or later/ },
  {
    cause: 'batch-position',
    lost: ({ expected }) => expected.inBatch < expected.emission.readings.length - 1,
    evidence: /1 or more places before the end/,
  },
  {
    cause: 'size-limit',
    lost: ({ payloadBytes = 0 }) => payloadBytes > 3000,
    evidence: /its message has \d+ bytes or more; \d+ bytes came through/,
  },
  {
    cause: 'without-position',
    lost: ({ expected }) => expected.reading.latDegE7 === null,
    evidence: /no position/,
  },
  {
    cause: 'without-value',
    lost: ({ expected }) => expected.reading.airTempCE2 === null,
    evidence: /airTempC is absent/,
  },
  {
    cause: 'below-zero',
    lost: ({ expected }) => (expected.reading.airTempCE2 ?? 0) < 0,
    evidence: /airTempC is below zero/,
  },
  { cause: 'too-close', lost: rateLimited(150_000), evidence: /or less after the last one found/ },
  {
    cause: 'payload-kind',
    lost: ({ payloadKind }) => payloadKind === 'senml-cbor',
    evidence: /of the kind senml-cbor/,
    rivals: ['topic-not-covered'],
  },
  {
    cause: 'topic-not-covered',
    all: SENT.map((one) => ({ ...one, payloadKind: 'plain' as const })),
    lost: ({ expected }) => expected.emission.topic.includes('trikes'),
    evidence: /topics .*trikes.*\{id\}/,
  },
  {
    cause: 'tracker-left-out',
    lost: ({ expected }) => [idA, idB].includes(expected.reading.id),
    evidence: /nothing came of \d{15}, \d{15}/,
    sure: 'likely',
  },
  {
    cause: 'row-cap',
    lost: ({ exportRank = 0 }) => exportRank >= 3000,
    evidence: /after row 3000/,
    rivals: ['stopped-receiving'],
  },
  { cause: 'page-edge', lost: ({ exportRank = 0 }) => exportRank % 250 === 249, evidence: /250 rows apart/ },
  {
    cause: 'batch-torn',
    lost: ({ expected }) => isTorn(expected.emission.n, expected.emission.readings.length, expected.inBatch),
    evidence: /ends of batches whose beginnings came through/,
  },
  {
    cause: 'dropped-when-busy',
    all: BURSTS,
    lost: (one) => (one.sentTogether ?? 0) > 9 && one.arrival % 2 === 0,
    evidence: /30 or more were sent within a second/,
    sure: 'possible',
  },
];

/** Some long batches, not all, broken off in the middle. */
function isTorn(n: number, length: number, place: number): boolean {
  return length >= 20 && n % 2 === 0 && place >= 4 + (n % 9);
}

describe('readings lost', () => {
  it.each(CASES.map((one, k) => [one.cause, k, one] as const))(
    '%s (%i)',
    (_, __, { cause, lost, all = SENT, evidence, rivals = [], sure }) => {
      const [broken, sound] = split(all, lost);
      const { causes, unexplained } = diagnose(MISSING_HYPOTHESES, broken, sound);
      const [first] = causes;
      expect(first?.cause.name).toBe(cause);
      expect(first?.cause.evidence).toMatch(evidence);
      for (const rival of rivals) expect(first?.cause.evidence).toContain(rival);
      const doubt = rivals.length > 0 ? 'likely' : 'certain';
      expect(first?.cause.sure).toBe(sure ?? doubt);
      expect(causes).toHaveLength(1);
      expect(unexplained).toEqual([]);
    },
  );
});

describe('stretches of lost messages', () => {
  const named = (all: readonly ReadingInstance[], lost: (one: ReadingInstance) => boolean): string[] => {
    const [broken, sound] = split(all, lost);
    expect(broken.length).toBeGreaterThan(50);
    return diagnose(MISSING_HYPOTHESES, broken, sound).causes.map(({ cause }) => cause.name);
  };
  const inGap = (from: number) => (one: ReadingInstance) => one.arrival >= from && one.arrival < from + 30;

  it('up to three are restarts, in spite of some that were sent again', () => {
    const gaps = [500, 1500, 2500].map(inGap);
    expect(named(SENT, (one) => gaps.some((gap) => gap(one)) && one.arrival % 500 !== 15)).toEqual([
      'restart-gap',
    ]);
  });

  it('many are something else', () => {
    const gaps = [300, 600, 900, 1200, 1500, 1800].map(inGap);
    expect(named(SENT, (one) => gaps.some((gap) => gap(one)))).not.toContain('restart-gap');
  });

  it('those of one tracker alone are no restart', () => {
    const together = SENT.map((one) =>
      one.expected.reading.id === idA ? { ...one, arrival: middle + one.expected.emission.n / 1e6 } : one,
    );
    const lost = ({ expected }: ReadingInstance): boolean =>
      expected.reading.id === idA && expected.emission.n >= 100 && expected.emission.n < 200;
    expect(named(together, lost)).not.toContain('restart-gap');
  });

  it('a batch that came in part was not lost with the messages around it', () => {
    const long = SENT.find(
      ({ expected, arrival }) => arrival > 1000 && expected.emission.readings.length === 20,
    );
    const at = long?.arrival ?? 0;
    const lost = ({ arrival, expected }: ReadingInstance): boolean =>
      (arrival > at && arrival < at + 60) || (arrival === at && expected.inBatch >= 10);
    expect(named(SENT, lost).toSorted()).toEqual(['batch-torn', 'restart-gap']);
  });
});

it('a queue of each tracker that overflows is busy, whatever else is sent', () => {
  const lost = ({ ownBurst = 0, expected }: ReadingInstance): boolean =>
    ownBurst > 30 && ownBurst > expected.emission.readings.length;
  const [broken, sound] = split(SENT, lost);
  expect(broken.length).toBeGreaterThan(10);
  const [first] = diagnose(MISSING_HYPOTHESES, broken, sound).causes;
  expect(first?.cause.name).toBe('dropped-when-busy');
  expect(first?.cause.evidence).toMatch(/within a second, in several messages/);
});

it('readings measured before the last one found are not too close to it', () => {
  const lost = ({ newestBeforeMs = 0, expected }: ReadingInstance): boolean =>
    newestBeforeMs - expected.reading.atMs > 240_000;
  const [broken, sound] = split(SENT, lost);
  const names = diagnose(MISSING_HYPOTHESES, broken, sound).causes.map(({ cause }) => cause.name);
  expect(names).toContain('late-dropped');
  expect(names).not.toContain('too-close');
});
