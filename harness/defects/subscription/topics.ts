// Defects of what is subscribed to.
import type { WireReading } from '../../../sim/index.ts';
import type { Damage } from '../../pipeline/damage.ts';
import type { Subscription } from '../../pipeline/pipeline.ts';
import { defect } from '../defect.ts';
import { withValues } from '../tools.ts';

/** A status message read as if it were a reading: what it doesn't say is made up, the rest is left absent. */
function readLeniently(payload: Uint8Array): readonly WireReading[] {
  const status = JSON.parse(Buffer.from(payload).toString()) as { id?: string };
  return [
    {
      id: status.id ?? '',
      label: '',
      boot: 1,
      seq: 0,
      at: new Date().toISOString(),
      clock: 'unset',
      fix: 'none',
      latDeg: null,
      lonDeg: null,
      altM: null,
      speedMps: null,
      courseDeg: null,
      satellites: 0,
      hdop: null,
      accuracyM: null,
      airTempC: null,
      humidityPct: null,
      pressurePa: null,
      accelMps2: null,
      batteryV: 0,
      batteryPct: 0,
      rsrpDbm: null,
      rsrqDb: null,
    },
  ];
}

const NOT_SAID = {
  label: null,
  boot: null,
  seq: null,
  clock: null,
  fix: null,
  satellites: null,
  batteryV: null,
  batteryPct: null,
} as const;

/** Subscribes to status messages too, and stores them as rows without a number. */
function storingStatus(): Damage {
  const statusTopics = new Set<string>();
  const isStatus = (topic: string) => statusTopics.has(topic.split('/').at(-1) ?? '');
  return {
    subscriptions: (sound) =>
      sound.map((subscription): Subscription => {
        if (subscription.decode !== null) return subscription;
        statusTopics.add(subscription.filter.split('/').at(-1) ?? '');
        return { ...subscription, decode: readLeniently };
      }),
    store: { key: ['id', 'boot', 'seq'], onRepeat: 'keep', strict: false },
    row: (row, { topic }) => (isStatus(topic) ? withValues(row, NOT_SAID) : row),
  };
}

export const TOPIC_DEFECTS = [
  defect(
    'subscription',
    {
      name: 'topic-not-covered',
      happens: 'A fleet with a newer payload publishes under a topic that the subscription does not cover.',
      breaks: ['ingest.complete'],
      cause: 'topic-not-covered',
    },
    {
      subscriptions: (sound) => {
        const last = sound.findLast(({ decode }) => decode !== null);
        return sound.filter((subscription) => subscription !== last);
      },
    },
  ),
  defect(
    'subscription',
    {
      name: 'will-stored',
      happens:
        'The subscription takes in the status topic, and the lenient decoder makes a row of each will and status.',
      breaks: ['ingest.nothing-invented'],
      cause: 'status-stored',
    },
    storingStatus,
  ),
  defect(
    'subscription',
    {
      name: 'retained-copy-stored',
      happens:
        'Nobody looks at the retain flag, so that each subscribing stores the kept status copies anew.',
      breaks: ['ingest.nothing-invented'],
      cause: 'status-stored',
    },
    () => {
      const damage = storingStatus();
      return {
        ...damage,
        session: { clean: false, subscribes: 'always' },
        message: (message) => {
          if (message.retained) return { ...message, retained: false };
          if (!message.topic.endsWith('/status')) return message;
          message.ack();
          return undefined;
        },
      };
    },
  ),
] as const;
