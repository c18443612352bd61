// Defects of when a message is acknowledged.
import type { Damage } from '../../pipeline/damage.ts';
import type { Arrival } from '../../pipeline/subscriber.ts';
import { defect } from '../defect.ts';

/** Large and slow enough that a crash finds something in hand. */
const SLOW_BATCH = { rows: 300, ms: 5000 };

/** Acknowledges on arrival; what happens to the message afterwards is nobody's business any more. */
function ackFirst(message: Arrival): Arrival {
  message.ack();
  return { ...message, ack: () => {} };
}

/** Nothing is written before the crash, which comes in the middle of the longest message. */
function crashMidBatch(): Damage {
  return {
    batch: { rows: 1_000_000, ms: 3_600_000 },
    message: ackFirst,
    dying: (rows, messages) => {
      let longest = { start: 0, length: 0 };
      for (let start = 0; start < rows.length;) {
        let end = start + 1;
        while (end < rows.length && messages[end] === messages[start]) end += 1;
        if (end - start > longest.length) longest = { start, length: end - start };
        start = end;
      }
      return rows.slice(0, longest.start + Math.floor(longest.length / 2));
    },
  };
}

/** Times of a clock that counts from the power-on default of GPS receivers. */
const POISON = '"1980-';

function poisonBlocks(): Damage {
  let stuck = false;
  return {
    message: (message) => {
      stuck ||= Buffer.from(message.payload).includes(POISON);
      return stuck ? undefined : message;
    },
  };
}

export const ACK_DEFECTS = [
  defect(
    'consumer',
    {
      name: 'ack-before-work',
      happens:
        'Messages are acknowledged on arrival and written in batches later; a crash loses what waited.',
      breaks: ['ingest.complete'],
      cause: 'restart-gap',
    },
    { batch: SLOW_BATCH, message: ackFirst },
  ),
  defect(
    'consumer',
    {
      name: 'crash-mid-batch',
      happens:
        'Rows are written one by one after the acknowledgement, and a crash comes half-way through a batch.',
      breaks: ['ingest.batches-whole', 'ingest.complete'],
      cause: 'batch-torn',
    },
    crashMidBatch,
  ),
  defect(
    'consumer',
    {
      name: 'poison-message-blocks',
      happens:
        'A reading from a clock that was never set makes the handler throw; the message is fetched again for ever, and nothing behind it is taken.',
      breaks: ['ingest.complete'],
      cause: 'stopped-receiving',
    },
    poisonBlocks,
  ),
] as const;
