// Missing readings set apart by where they stand: in the order of arrival, or in that of the export.
import { commonest, distinct } from './cells.ts';
import { bestContrast, contrast } from './chance.ts';
import type { Hypothesis } from './hypothesis.ts';
import type { ReadingInstance } from './instances.ts';

interface Placed {
  readonly one: ReadingInstance;
  readonly missing: boolean;
}

/** By arrival; readings of one message by their place in it. */
function byArrival(a: ReadingInstance, b: ReadingInstance): number {
  return a.arrival - b.arrival || a.expected.inBatch - b.expected.inBatch;
}

function bySending(a: ReadingInstance, b: ReadingInstance): number {
  return a.expected.emission.n - b.expected.emission.n || a.expected.inBatch - b.expected.inBatch;
}

function inOrder(
  broken: readonly ReadingInstance[],
  sound: readonly ReadingInstance[],
  compare: (a: ReadingInstance, b: ReadingInstance) => number,
): Placed[] {
  return [
    ...broken.map((one) => ({ one, missing: true })),
    ...sound.map((one) => ({ one, missing: false })),
  ].toSorted((a, b) => compare(a.one, b.one));
}

interface Run {
  readonly from: ReadingInstance;
  readonly to: ReadingInstance;
  /** Readings, and the messages that they came in. */
  readonly count: number;
  readonly messages: number;
  /** Whether found ones come before and after. */
  readonly opened: boolean;
  readonly closed: boolean;
}

function runsOf(placed: readonly Placed[]): Run[] {
  const runs: Run[] = [];
  for (let k = 0; k < placed.length; k++) {
    const first = placed[k];
    if (!first?.missing) continue;
    let end = k;
    while (placed[end + 1]?.missing) end += 1;
    const last = placed[end] ?? first;
    runs.push({
      from: first.one,
      to: last.one,
      count: end - k + 1,
      messages: distinct(placed.slice(k, end + 1).map(({ one }) => one.expected.emission)),
      opened: k > 0,
      closed: end + 1 < placed.length,
    });
    k = end;
  }
  return runs;
}

const hasArrival = ({ arrival }: ReadingInstance): boolean => arrival >= 0;

/**
 * Runs of missing messages too long for chance: a run of k comes by chance about N times share^k. Readings of one
 * message are lost together anyway, so messages are counted.
 */
function longRuns(
  broken: readonly ReadingInstance[],
  sound: readonly ReadingInstance[],
  wanted: (run: Run) => boolean,
): Run[] {
  if (!broken.some(hasArrival)) return [];
  const placed = inOrder(broken.filter(hasArrival), sound.filter(hasArrival), byArrival);
  const messages = distinct(placed.map(({ one }) => one.expected.emission));
  const share = distinct(broken.map(({ expected }) => expected.emission)) / messages;
  return runsOf(placed).filter(
    (run) =>
      wanted(run) &&
      run.messages >= 3 &&
      (messages * Math.min(share, 1) ** run.messages < 1e-3 || !run.closed),
  );
}

function within(runs: readonly Run[]): (one: ReadingInstance) => boolean {
  return (one) =>
    hasArrival(one) && runs.some(({ from, to }) => byArrival(from, one) <= 0 && byArrival(one, to) <= 0);
}

export const RESTART_GAP = contrast<ReadingInstance>(
  'restart-gap',
  'Messages that came in one stretch of time were lost, and later ones were not: a restart, with a session or messages not kept.',
  'consumer',
  (broken, sound) => {
    const runs = longRuns(broken, sound, ({ opened, closed }) => opened && closed);
    const [first] = runs;
    if (!first) return undefined;
    const many = runs.length === 1 ? 'one run' : `${runs.length} runs`;
    return {
      covers: within(runs),
      say: () =>
        `in order of arrival they are ${many}, such as messages ${first.from.arrival} to ${first.to.arrival}`,
      tried: 10,
    };
  },
);

export const STARTED_LATE = contrast<ReadingInstance>(
  'started-late',
  'Everything before one moment was lost: the pipeline subscribed after messages had begun to come.',
  'consumer',
  (broken, sound) => {
    const [run] = longRuns(broken, sound, ({ opened, closed }) => !opened && closed);
    return (
      run && {
        covers: within([run]),
        say: () => `nothing came before message ${run.to.arrival + 1}`,
        tried: 10,
      }
    );
  },
);

export const STOPPED: Hypothesis<ReadingInstance> = contrast(
  'stopped-receiving',
  'From one message on nothing came through: a subscription not made again, a consumer that hangs, or a message that blocks it.',
  'consumer',
  (broken, sound) => {
    const [run] = longRuns(broken, sound, ({ opened, closed }) => opened && !closed);
    if (run) {
      return {
        covers: (one) => hasArrival(one) && byArrival(run.from, one) <= 0,
        say: () => `nothing came from message ${run.from.arrival} on`,
        tried: 10,
      };
    }
    return stoppedTrackers(broken, sound);
  },
);

function stoppedTrackers(broken: readonly ReadingInstance[], sound: readonly ReadingInstance[]) {
  const ids = new Map<string, [ReadingInstance[], ReadingInstance[]]>();
  const listsOf = ({ expected }: ReadingInstance) => {
    const known = ids.get(expected.reading.id);
    if (known) return known;
    const made: [ReadingInstance[], ReadingInstance[]] = [[], []];
    ids.set(expected.reading.id, made);
    return made;
  };
  for (const one of broken) listsOf(one)[0].push(one);
  for (const one of sound) listsOf(one)[1].push(one);
  const share = broken.length / (broken.length + sound.length);
  const from = new Map<string, ReadingInstance>();
  for (const [id, [missing, found]] of ids) {
    if (missing.length < 3 || found.length === 0) continue;
    const last = runsOf(inOrder(missing, found, bySending)).at(-1);
    if (!last || last.closed || last.count < 3 || ids.size * share ** last.count > 1e-3) continue;
    from.set(id, last.from);
  }
  const [example] = from;
  if (!example) return undefined;
  const [id, start] = example;
  const several = from.size === 1 ? `tracker ${id}` : `${from.size} trackers, such as ${id},`;
  return {
    covers: (one: ReadingInstance) => {
      const begun = from.get(one.expected.reading.id);
      return begun !== undefined && bySending(begun, one) <= 0;
    },
    say: () => `nothing came of ${several} from its message ${start.expected.emission.n} on`,
    tried: ids.size,
  };
}

const hasRank = ({ exportRank }: ReadingInstance): boolean => exportRank !== undefined;

/** Where the export breaks off: highest rank found and lowest missing behind it. */
function cutOf(
  broken: readonly ReadingInstance[],
  sound: readonly ReadingInstance[],
): { readonly afterRank: number; readonly fromRank: number } | undefined {
  if (!broken.some(hasRank) || !sound.some(hasRank)) return undefined;
  const afterRank = sound.reduce((most, { exportRank = -1 }) => Math.max(most, exportRank), -1);
  const behind = broken.map(({ exportRank = -1 }) => exportRank).filter((rank) => rank > afterRank);
  if (behind.length < 3) return undefined;
  return {
    afterRank,
    fromRank: behind.reduce((least, rank) => Math.min(least, rank), Number.POSITIVE_INFINITY),
  };
}

/** The number of rows that came out, where it is such as people choose for limits. */
function roundCount(afterRank: number, fromRank: number): number | undefined {
  for (let unit = 1_000_000; unit >= 100; unit /= 10) {
    const count = Math.floor(fromRank / unit) * unit;
    if (count > afterRank) return count;
  }
  for (let power = 32; power <= 2 ** 31; power *= 2) if (power > afterRank && power <= fromRank) return power;
  return undefined;
}

function rowCap(only: 'round' | 'any'): Hypothesis<ReadingInstance> {
  return contrast<ReadingInstance>(
    'row-cap',
    'The export breaks off after so many rows: look for a limit of the query, a page that was the last by mistake, or a cut file.',
    'export',
    (broken, sound) => {
      const cut = cutOf(broken, sound);
      if (!cut) return undefined;
      const count = roundCount(cut.afterRank, cut.fromRank);
      if (only === 'round' && count === undefined) return undefined;
      return {
        covers: ({ exportRank = -1 }) => exportRank >= cut.fromRank,
        say: () => `in the promised order nothing comes after row ${count ?? cut.fromRank}`,
        tried: 10,
      };
    },
  );
}

/** A limit at a round number is a limit of rows, whatever else begins at the same place. */
export const CAP_AT_ROUND = rowCap('round');
export const ROW_CAP = rowCap('any');

export const PAGE_EDGE = contrast<ReadingInstance>(
  'page-edge',
  'Rows at the seam of two pages were lost: page by a key that is unique, and begin after the last row, not at a count.',
  'export',
  (broken, sound) => {
    const ranks = broken.flatMap(({ exportRank }) => exportRank ?? []).toSorted((a, b) => a - b);
    const candidates = spacingsOf(ranks).map(({ every, at }) => ({
      covers: ({ exportRank }: ReadingInstance) => exportRank !== undefined && exportRank % every === at,
      say: () => `in the promised order they stand ${every} rows apart`,
      tried: 20,
    }));
    return bestContrast(candidates, broken, sound);
  },
);

export interface Spacing {
  readonly every: number;
  readonly at: number;
  /** How many of the places it holds. */
  readonly count: number;
}

/** Commonest steps that are looked at; and into how many a step may be divided, where places between are lost otherwise. */
const STEPS = 5;
const PARTS = [1, 2, 3, 4];

/** Distances at which many of the places stand, and where each begins. */
export function spacingsOf(ranks: readonly number[]): readonly Spacing[] {
  const counts = new Map<number, number>();
  for (let k = 1; k < ranks.length; k++) {
    const step = (ranks[k] ?? 0) - (ranks[k - 1] ?? 0);
    if (step > 1) counts.set(step, (counts.get(step) ?? 0) + 1);
  }
  const steps = [...counts].toSorted((a, b) => b[1] - a[1] || a[0] - b[0]).slice(0, STEPS);
  const distances = new Set(steps.flatMap(([step]) => PARTS.map((part) => step / part)));
  return [...distances].flatMap((every) => {
    if (!Number.isInteger(every) || every < 3) return [];
    const mode = commonest(ranks.map((rank) => rank % every));
    return mode && mode.count >= 3 ? [{ every, at: mode.value, count: mode.count }] : [];
  });
}
