// Missing readings set apart by the message that carried them.
import type { Emission } from '../../sim/index.ts';
import { bestContrast, chanceOf, contrast, surenessOf, threshold, type Contrast } from './chance.ts';
import type { Hypothesis } from './hypothesis.ts';
import type { ReadingInstance } from './instances.ts';

export const BATCH_POSITION = contrast<ReadingInstance>(
  'batch-position',
  'Only some places of a batch were taken: the first, the last, or so many. Unpack every reading of a message.',
  'consumer',
  (broken, sound) =>
    bestContrast(
      [
        threshold(
          {
            of: ({ expected }) => expected.inBatch,
            side: 'above',
            from: 1,
            show: (place) => String(place + 1),
            say: (bound) => `it stands in place ${bound} or later of its batch`,
          },
          broken,
          sound,
        ),
        threshold(
          {
            of: ({ expected }) => expected.emission.readings.length - 1 - expected.inBatch,
            side: 'above',
            from: 1,
            show: String,
            say: (bound) => `it stands ${bound} or more places before the end of its batch`,
          },
          broken,
          sound,
        ),
      ],
      broken,
      sound,
    ),
  ['batch-torn'],
);

/** About what a reading takes in plain JSON beside its label. */
const READING_BYTES = 350;

function bytesOf({ expected, payloadBytes }: ReadingInstance): number {
  if (payloadBytes !== undefined) return payloadBytes;
  const { readings } = expected.emission;
  return readings.reduce((sum, { label }) => sum + READING_BYTES + Buffer.byteLength(label), 0);
}

export const SIZE_LIMIT = contrast<ReadingInstance>(
  'size-limit',
  'Messages above a size were lost whole: look for a limit of payload, packet, row or field.',
  'consumer',
  (broken, sound) => {
    const measured = broken.every(({ payloadBytes }) => payloadBytes !== undefined);
    return threshold(
      {
        of: bytesOf,
        side: 'above',
        show: (bytes) => `${measured ? '' : 'about '}${bytes} bytes`,
        say: (bound, beside) => `its message has ${bound} or more; ${beside} came through`,
      },
      broken,
      sound,
    );
  },
);

/** A category of which nothing came through, while others did. */
function kinds(
  of: (one: ReadingInstance) => string | undefined,
  say: (names: string) => string,
): (
  broken: readonly ReadingInstance[],
  sound: readonly ReadingInstance[],
) => Contrast<ReadingInstance> | undefined {
  return (broken, sound) => {
    const found = new Set(sound.map(of));
    const counts = new Map<string, number>();
    for (const one of broken) {
      const kind = of(one);
      if (kind !== undefined && !found.has(kind)) counts.set(kind, (counts.get(kind) ?? 0) + 1);
    }
    const lost = new Set([...counts].filter(([, count]) => count >= 3).map(([kind]) => kind));
    if (lost.size === 0) return undefined;
    const names = [...lost].slice(0, 3).join(', ') + (lost.size > 3 ? ` and ${lost.size - 3} more` : '');
    return {
      covers: (one) => lost.has(of(one) ?? ''),
      say: () => say(names),
      tried: Math.max(1, lost.size),
    };
  };
}

export const PAYLOAD_KIND = contrast<ReadingInstance>(
  'payload-kind',
  'Messages of one payload format were lost whole: look for a content type that is not decoded.',
  'consumer',
  kinds(
    ({ payloadKind }) => payloadKind,
    (names) => `nothing came of payloads of the kind ${names}`,
  ),
  ['tracker-left-out'],
);

export const TOPIC = contrast<ReadingInstance>(
  'topic-not-covered',
  'No subscription covers these topics: compare the topic filter with the topics that are used.',
  'consumer',
  kinds(
    ({ expected: { emission, reading } }) => emission.topic.replaceAll(reading.id, '{id}'),
    (names) => `nothing came of the topics ${names}`,
  ),
  ['tracker-left-out'],
);

const NO_TRACKER = contrast<ReadingInstance>(
  'tracker-left-out',
  'Nothing of these trackers came through: look for a list of known devices, or for what sets them apart.',
  'consumer',
  kinds(
    ({ expected }) => expected.reading.id,
    (names) => `nothing came of ${names}`,
  ),
);

/** Why just these is still to be said, so that it is never certain. */
export const TRACKER: Hypothesis<ReadingInstance> = {
  ...NO_TRACKER,
  fit(broken, sound) {
    const fit = NO_TRACKER.fit(broken, sound);
    return fit && { ...fit, atMost: fit.atMost === 'certain' ? 'likely' : (fit.atMost ?? 'likely') };
  },
};

/** The tail of a batch whose head came through. */
export const BATCH_TORN: Hypothesis<ReadingInstance> = {
  name: 'batch-torn',
  words:
    'Work on a batch stopped half-way and was not done again: acknowledge after the whole batch is stored.',
  hop: 'consumer',
  fit(broken, sound) {
    const lastFound = new Map<Emission, number>();
    const found = new Map<Emission, number>();
    for (const { expected } of sound) {
      lastFound.set(expected.emission, Math.max(lastFound.get(expected.emission) ?? -1, expected.inBatch));
      found.set(expected.emission, (found.get(expected.emission) ?? 0) + 1);
    }
    const missing = new Map<Emission, number[]>();
    for (const { expected } of broken) {
      const places = missing.get(expected.emission);
      if (places) places.push(expected.inBatch);
      else missing.set(expected.emission, [expected.inBatch]);
    }
    const torn = new Set<Emission>();
    // How likely it is that those missing are the last ones by chance: one over the ways to choose them.
    let chance = 1;
    for (const [emission, places] of missing) {
      const last = lastFound.get(emission);
      if (last === undefined || Math.min(...places) <= last) continue;
      torn.add(emission);
      for (let k = 1; k <= places.length; k++) chance *= k / ((found.get(emission) ?? 0) + k);
    }
    if (torn.size === 0) return undefined;
    const atMost = surenessOf(Math.min(chance, chanceOf(1, 0, broken.length, sound.length)), missing.size);
    if (!atMost) return undefined;
    const covers = ({ expected }: ReadingInstance): boolean => torn.has(expected.emission);
    const count = broken.filter(covers).length;
    return {
      covers,
      wouldBreak: () => false,
      evidence: `${count} readings are the ends of batches whose beginnings came through: ${torn.size} in all`,
      atMost,
    };
  },
};
