// Defects that let go of readings which look odd.
import { SECOND_MS, type WireReading } from '../../../sim/index.ts';
import type { Damage } from '../../pipeline/damage.ts';
import { defect } from '../defect.ts';

const MINUTE_MS = 60 * SECOND_MS;
const WATERMARK_MS = 10 * MINUTE_MS;
const AHEAD_MS = 60 * MINUTE_MS;
const CLOSEST_MS = MINUTE_MS;
/** Messages that overtake each other are allowed for. */
const REORDERED = 24;
const OLDEST_MS = Date.UTC(2020, 0, 1);

const atMs = (reading: WireReading): number => Date.parse(String(reading['at']));
const tracker = (reading: WireReading): string => String(reading['id']);

/** Keeps the readings that `keep` says yes to, one after another. */
const keeping = (keep: (reading: WireReading) => boolean): Damage => ({
  readings: (readings) => readings.filter(keep),
});

function contentDedupe(): Damage {
  const last = new Map<string, string>();
  return keeping((reading) => {
    const { at: _at, seq: _seq, ...content } = reading;
    const text = JSON.stringify(content);
    const repeats = last.get(tracker(reading)) === text;
    last.set(tracker(reading), text);
    return !repeats;
  });
}

function watermark(): Damage {
  const newestMs = new Map<string, number>();
  return keeping((reading) => {
    const before = newestMs.get(tracker(reading)) ?? Number.NEGATIVE_INFINITY;
    newestMs.set(tracker(reading), Math.max(before, atMs(reading)));
    return atMs(reading) >= before - WATERMARK_MS;
  });
}

function sequenceWrapOld(): Damage {
  const highest = new Map<string, number>();
  return keeping((reading) => {
    const seq = Number(reading['seq']);
    const before = highest.get(tracker(reading)) ?? -1;
    highest.set(tracker(reading), Math.max(before, seq));
    return seq > before - REORDERED;
  });
}

function rateLimit(): Damage {
  const lastMs = new Map<string, number>();
  return keeping((reading) => {
    const sinceMs = Math.abs(atMs(reading) - (lastMs.get(tracker(reading)) ?? Number.NEGATIVE_INFINITY));
    if (sinceMs < CLOSEST_MS) return false;
    lastMs.set(tracker(reading), atMs(reading));
    return true;
  });
}

/** Ahead of what the tracker said before; the wall clock of a test bench lies in another year. */
function futureRefused(): Damage {
  const lastMs = new Map<string, number>();
  return keeping((reading) => {
    const before = lastMs.get(tracker(reading)) ?? Number.POSITIVE_INFINITY;
    if (atMs(reading) > before + AHEAD_MS) return false;
    if (reading['clock'] !== 'unset') lastMs.set(tracker(reading), atMs(reading));
    return true;
  });
}

const lost = (name: string, happens: string, cause: string) =>
  ({ name, happens, breaks: ['ingest.complete'], cause }) as const;

/** What is let go depends on what came before. */
const lostByOrder = (name: string, happens: string, cause: string) =>
  ({ ...lost(name, happens, cause), crash: false }) as const;

export const FILTER_DEFECTS = [
  defect(
    'consumer',
    lost(
      'content-dedupe',
      'A reading that measures the same as the one before is taken for a repeat.',
      'content-dedupe',
    ),
    contentDedupe,
  ),
  defect(
    'consumer',
    lostByOrder(
      'sequence-wrap-old',
      'A number well below the highest so far is taken for old, also after a reboot that starts again.',
      'sequence-went-back',
    ),
    sequenceWrapOld,
  ),
  defect(
    'consumer',
    lostByOrder(
      'watermark',
      'A stream processor lets go of what lies more than ten minutes behind the newest of its tracker.',
      'late-dropped',
    ),
    watermark,
  ),
  defect(
    'consumer',
    lost('position-required', 'A reading without a position is taken for invalid.', 'without-position'),
    keeping((reading) => reading['latDeg'] !== null),
  ),
  defect(
    'consumer',
    lostByOrder('rate-limit', 'At most one reading a minute is taken from a tracker.', 'too-close'),
    rateLimit,
  ),
  defect(
    'consumer',
    lostByOrder(
      'future-refused',
      'A time more than an hour ahead of what the tracker said before is taken for invalid.',
      'time-ahead',
    ),
    futureRefused,
  ),
  defect(
    'consumer',
    lost('old-refused', 'A time before 2020 is taken for invalid, as unset clocks give it.', 'clock-unset'),
    keeping((reading) => atMs(reading) >= OLDEST_MS),
  ),
  defect(
    'consumer',
    lost('negative-refused', 'The range check of the air temperature starts at zero.', 'below-zero'),
    keeping((reading) => !(Number(reading['airTempC']) < 0)),
  ),
] as const;
