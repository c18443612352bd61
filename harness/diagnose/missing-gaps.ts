// Missing messages that came in one stretch of time: whoever should have taken them was away.
import { distinct } from './cells.ts';
import { contrast } from './chance.ts';
import type { ReadingInstance } from './instances.ts';
import { hasArrival } from './missing-runs.ts';

/** Restarts that a run is taken to have seen at most: more gaps than these have another cause. */
const MOST_RESTARTS = 3;
/** Found messages between two runs, as a share of the lost ones around them, that a second sending may account for. */
const SENT_AGAIN = 0.1;

/** A message, and whether all of it is missing: one of which some came through was received. */
interface Message {
  readonly one: ReadingInstance;
  readonly lost: boolean;
}

interface Stretch {
  readonly from: number;
  readonly to: number;
  readonly lost: number;
}

function messagesOf(broken: readonly ReadingInstance[], sound: readonly ReadingInstance[]): Message[] {
  const messages = new Map<unknown, Message>();
  for (const one of sound) if (hasArrival(one)) messages.set(one.expected.emission, { one, lost: false });
  for (const one of broken) {
    const { emission } = one.expected;
    if (hasArrival(one) && !messages.has(emission)) messages.set(emission, { one, lost: true });
  }
  return [...messages.values()].toSorted((a, b) => a.one.arrival - b.one.arrival);
}

/** Stretches of lost messages, with the few between them that came through by a second sending. */
function stretchesOf(messages: readonly Message[]): Stretch[] {
  const stretches: Stretch[] = [];
  messages.forEach(({ lost }, k) => {
    if (!lost) return;
    const last = stretches.at(-1);
    if (last?.to === k - 1) stretches.splice(-1, 1, { ...last, to: k, lost: last.lost + 1 });
    else stretches.push({ from: k, to: k, lost: 1 });
  });
  for (let k = 1; k < stretches.length;) {
    const [a, b] = [stretches[k - 1], stretches[k]];
    if (a && b && b.from - a.to - 1 <= SENT_AGAIN * Math.min(a.lost, b.lost)) {
      stretches.splice(k - 1, 2, { from: a.from, to: b.to, lost: a.lost + b.lost });
      k = Math.max(1, k - 1);
    } else k += 1;
  }
  return stretches;
}

/** Who is away misses what all send, and takes it from all of them before and after. */
function isAbsence(messages: readonly Message[], { from, to }: Stretch): boolean {
  const idOf = ({ one }: Message): string => one.expected.reading.id;
  const found = (part: readonly Message[]) => new Set(part.filter(({ lost }) => !lost).map(idOf));
  const before = found(messages.slice(0, from));
  const after = found(messages.slice(to + 1));
  const inIt = new Set(
    messages
      .slice(from, to + 1)
      .filter(({ lost }) => lost)
      .map(idOf),
  );
  const known = [...inIt].filter((id) => before.has(id) && after.has(id)).length;
  const isFleet = distinct(messages.map(idOf)) > 1;
  return known >= (isFleet ? 2 : 1) && 2 * known >= inIt.size;
}

export const RESTART_GAP = contrast<ReadingInstance>(
  'restart-gap',
  'Messages that came in one stretch of time were lost, and later ones were not: a restart with a session or messages not kept, or a consumer that hung until it was restarted.',
  'consumer',
  (broken, sound) => {
    const messages = messagesOf(broken, sound);
    const share = messages.filter(({ lost }) => lost).length / messages.length;
    const gaps = stretchesOf(messages).filter(
      (stretch) =>
        stretch.from > 0 &&
        stretch.to < messages.length - 1 &&
        stretch.lost >= 3 &&
        messages.length * share ** stretch.lost < 1e-3 &&
        isAbsence(messages, stretch),
    );
    if (gaps.length === 0 || gaps.length > MOST_RESTARTS) return undefined;
    const bounds = gaps.map(({ from, to }) => ({
      first: messages[from]?.one.arrival ?? 0,
      last: messages[to]?.one.arrival ?? 0,
    }));
    const lost = new Set(messages.filter((one) => one.lost).map(({ one }) => one.expected.emission));
    const [gap] = bounds;
    const many = gaps.length === 1 ? 'one stretch' : `${gaps.length} stretches`;
    return {
      covers: ({ arrival, expected }) =>
        lost.has(expected.emission) && bounds.some(({ first, last }) => arrival >= first && arrival <= last),
      say: () =>
        `in order of arrival they are ${many}, such as messages ${gap?.first} to ${gap?.last}, of several trackers of which others came before and after`,
      tried: 10 ** gaps.length,
    };
  },
);
