// Why an export of a period holds other rows than those measured in it.
import { durationText, HOUR_MS, MINUTE_MS } from '../../sim/index.ts';
import type { Hypothesis } from './hypothesis.ts';
import type { WindowInstance } from './instances.ts';

/** Rows at one end of the period, to the millisecond. */
function edge(
  name: string,
  words: string,
  kind: WindowInstance['kind'],
  end: 'fromMs' | 'toMs',
  say: string,
): Hypothesis<WindowInstance> {
  const covers = (row: WindowInstance): boolean => row.kind === kind && row.atMs === row[end];
  return {
    name,
    words,
    hop: 'export',
    fit(broken) {
      const count = broken.filter(covers).length;
      return count === 0
        ? undefined
        : {
            covers,
            wouldBreak: ({ atMs, [end]: endMs }) => atMs === endMs,
            exact: true,
            evidence: `${count} of ${broken.length} rows were measured just at the ${say}`,
          };
    },
  };
}

const FROM_EXCLUDED = edge(
  'from-excluded',
  'Rows measured just at the beginning of the period are left out: it begins with its first instant.',
  'missing',
  'fromMs',
  'beginning and are missing',
);

const TO_INCLUDED = edge(
  'to-included',
  'Rows measured just at the end of the period are taken in: it ends before its last instant.',
  'outside',
  'toMs',
  'end and stand in it',
);

const EDGE_SPANS: readonly (readonly [number, string])[] = [
  [1000, 'second'],
  [MINUTE_MS, 'minute'],
];

/** Ends compared at a coarser resolution than the times. */
const COARSE: Hypothesis<WindowInstance> = {
  name: 'coarse-ends',
  words: 'The ends of the period are compared by whole seconds or minutes: compare at the full resolution.',
  hop: 'export',
  fit(broken) {
    for (const [spanMs, unit] of EDGE_SPANS) {
      const covers = ({ kind, atMs, fromMs, toMs }: WindowInstance): boolean =>
        kind === 'outside'
          ? atMs > toMs && atMs - toMs < spanMs
          : kind === 'missing' && atMs !== fromMs && (atMs - fromMs < spanMs || toMs - atMs <= spanMs);
      const count = broken.filter(covers).length;
      if (count === broken.length && count > 0) {
        return {
          covers,
          wouldBreak: () => false,
          evidence: `all ${count} rows lie within a ${unit} of an end of the period`,
          ...(count < 5 ? { atMost: 'possible' as const } : {}),
        };
      }
    }
    return undefined;
  },
};

const SHIFTED: Hypothesis<WindowInstance> = {
  name: 'window-shifted',
  words:
    'The whole period is moved: its ends were read in another zone than promised, or compared with local times.',
  hop: 'export',
  fit(broken, sound) {
    let best: { byMs: number; score: number } | undefined;
    for (const byMs of shifts(broken)) {
      const covers = shiftedBy(byMs);
      const count = broken.filter(covers).length;
      const wrongly = sound.filter((row) => wouldMiss(byMs, row)).length;
      const score = count - wrongly;
      // The smallest that explains the most: a larger one would have broken more.
      if (count > 0 && (!best || score > best.score)) best = { byMs, score };
    }
    if (!best || best.score <= 0) return undefined;
    const { byMs } = best;
    const covers = shiftedBy(byMs);
    const both = new Set(broken.filter(covers).map(({ kind }) => kind)).size > 1;
    return {
      covers,
      wouldBreak: (row) => wouldMiss(byMs, row),
      evidence: `rows are missing and surplus as if the period began and ended ${durationText(Math.abs(byMs))} ${byMs > 0 ? 'later' : 'earlier'}`,
      // A cap of rows, or lateness, could leave one side bare too.
      ...(both ? {} : { atMost: 'possible' as const }),
    };
  },
};

/** Quarter hours up to 14 h, as zones have them, the smallest first. */
function shifts(broken: readonly WindowInstance[]): number[] {
  if (broken.length < 3) return [];
  const quarters = Array.from({ length: 56 }, (_, k) => ((k + 1) * HOUR_MS) / 4);
  return quarters.flatMap((ms) => [ms, -ms]);
}

function shiftedBy(byMs: number): (row: WindowInstance) => boolean {
  return ({ kind, atMs, fromMs, toMs }) => {
    const inMoved = atMs >= fromMs + byMs && atMs < toMs + byMs;
    const inTrue = atMs >= fromMs && atMs < toMs;
    return kind === 'missing' ? inTrue && !inMoved : kind === 'outside' && !inTrue && inMoved;
  };
}

function wouldMiss(byMs: number, { atMs, fromMs, toMs }: WindowInstance): boolean {
  return !(atMs >= fromMs + byMs && atMs < toMs + byMs);
}

const BY_ARRIVAL: Hypothesis<WindowInstance> = {
  name: 'window-by-arrival',
  words: 'The period goes by the time at which messages came in, not by the time measured.',
  hop: 'export',
  fit(broken) {
    const isIn = (ms: number | undefined, { fromMs, toMs }: WindowInstance): boolean =>
      ms !== undefined && ms >= fromMs && ms < toMs;
    const covers = (row: WindowInstance): boolean =>
      row.sentAtMs !== undefined &&
      (row.kind === 'missing' ? !isIn(row.sentAtMs, row) : row.kind === 'outside' && isIn(row.sentAtMs, row));
    const count = broken.filter(covers).length;
    return count === 0
      ? undefined
      : {
          covers,
          wouldBreak: (row) => row.sentAtMs !== undefined && !isIn(row.sentAtMs, row),
          evidence: `${count} of ${broken.length} rows stand where the time of sending puts them`,
        };
  },
};

const ROW_CAP: Hypothesis<WindowInstance> = {
  name: 'row-cap',
  words: 'The export of a period breaks off after so many rows: look for a limit of the query or of a page.',
  hop: 'export',
  fit(broken, sound) {
    const missing = broken.filter(({ kind }) => kind === 'missing').map(({ rowsBefore }) => rowsBefore);
    if (missing.length < 3) return undefined;
    const cap = missing.reduce((a, b) => Math.min(a, b), Number.POSITIVE_INFINITY);
    if (cap < 1 || (sound.length > 0 && sound.every(({ rowsBefore }) => rowsBefore > cap))) return undefined;
    return {
      covers: ({ kind, rowsBefore }) => kind === 'missing' && rowsBefore >= cap,
      wouldBreak: ({ rowsBefore }) => rowsBefore >= cap,
      evidence: `each has ${cap} rows or more of its period before it`,
    };
  },
};

export const WINDOW_HYPOTHESES: readonly Hypothesis<WindowInstance>[] = [
  FROM_EXCLUDED,
  TO_INCLUDED,
  BY_ARRIVAL,
  SHIFTED,
  COARSE,
  ROW_CAP,
];
