// Defects of the MQTT session over a restart.
import { defect } from '../defect.ts';

export const SESSION_DEFECTS = [
  defect(
    'subscription',
    {
      name: 'session-lost-on-restart',
      happens:
        'The consumer connects with a clean session, so that the broker keeps nothing for it while it restarts.',
      breaks: ['ingest.complete'],
      cause: 'restart-gap',
    },
    { session: { clean: true, subscribes: 'where-lost' } },
  ),
  defect(
    'subscription',
    {
      name: 'not-subscribed-again',
      happens:
        'After a crash the consumer takes its subscriptions for kept by a session that the broker never kept.',
      breaks: ['ingest.complete'],
      cause: 'stopped-receiving',
    },
    { session: { clean: true, subscribes: 'once' } },
  ),
] as const;
