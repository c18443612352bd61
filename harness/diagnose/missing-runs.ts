// Missing readings set apart by where they stand in the order of arrival.
import { distinct } from './cells.ts';
import { contrast } from './chance.ts';
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

export const hasArrival = ({ arrival }: ReadingInstance): boolean => arrival >= 0;

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
