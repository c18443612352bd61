// Defects in how a message is taken apart.
import type { Damage } from '../../pipeline/damage.ts';
import { defect } from '../defect.ts';

const LONGEST_BATCH = 8;
const LARGEST_BYTES = 4096;
const QUEUE_READINGS = 30;

/** A queue for each tracker, from which the writer takes two readings between two messages. */
function dropsUnderLoad(): Damage {
  const queued = new Map<string, number>();
  return {
    readings: (readings, { topic }) => {
      const waiting = Math.max(0, (queued.get(topic) ?? 0) - 2);
      const fits = waiting + readings.length <= QUEUE_READINGS;
      queued.set(topic, fits ? waiting + readings.length : waiting);
      return fits ? readings : [];
    },
  };
}

export const BATCH_DEFECTS = [
  defect(
    'consumer',
    {
      name: 'batch-first-only',
      happens: 'The decoder was written for messages of one reading, and takes the first of a batch.',
      breaks: ['ingest.complete', 'ingest.batches-whole'],
      cause: 'batch-position',
    },
    { readings: (readings) => readings.slice(0, 1) },
  ),
  defect(
    'consumer',
    {
      name: 'batch-last-only',
      happens: 'Each reading of a batch overwrites the one before in the same object; the last is stored.',
      breaks: ['ingest.complete', 'ingest.batches-whole'],
      cause: 'batch-position',
    },
    { readings: (readings) => readings.slice(-1) },
  ),
  defect(
    'consumer',
    {
      name: 'batch-cut',
      happens: 'A buffer of fixed length holds eight readings of a message, and the rest is left out.',
      breaks: ['ingest.complete', 'ingest.batches-whole'],
      cause: 'batch-position',
    },
    { readings: (readings) => readings.slice(0, LONGEST_BATCH) },
  ),
  defect(
    'consumer',
    {
      name: 'payload-size-limit',
      happens: 'A gateway in between lets go of messages above 4 KiB, and says so to nobody.',
      breaks: ['ingest.complete'],
      cause: 'size-limit',
    },
    { readings: (readings, { payload }) => (payload.length > LARGEST_BYTES ? [] : readings) },
  ),
  defect(
    'consumer',
    {
      name: 'cbor-refused',
      happens: 'Only JSON was thought of; a binary payload is refused as invalid.',
      breaks: ['ingest.complete', 'ingest.rejects'],
      cause: 'payload-kind',
    },
    {
      readings: (readings, { payload }) => {
        // A JSON text starts with a bracket; a CBOR array starts with its major type, 4 (RFC 8949, 3.1).
        if ((payload[0] ?? 0) >> 5 === 4) throw new Error('the payload is not JSON');
        return readings;
      },
    },
  ),
  defect(
    'consumer',
    {
      name: 'drops-under-load',
      happens:
        'Each tracker has a queue of thirty readings before the writer, and what comes while it is full is let go.',
      breaks: ['ingest.complete'],
      cause: 'dropped-when-busy',
    },
    dropsUnderLoad,
  ),
] as const;
