// What encoding costs: `node --import tsx test/bench/encode.ts`. Nanoseconds a reading, and the ratio to a bare
// JSON.stringify of the same objects in the same run. Best of several rounds, the ways taken in turn, so that
// a busy machine strikes all of them alike.
import { pathToFileURL } from 'node:url';
import { codecFor } from '../../sim/payload/codec.ts';
import { wireReading } from '../../sim/payload/wire.ts';
import { randomStream } from '../../sim/random.ts';
import type { Reading } from '../../sim/reading.ts';

/** `count` readings of 20 trackers. Whatever makes readings may take the place of `madeUp`. */
export type ReadingSource = (count: number) => readonly Reading[];

/** IMEIs of a test range, with their Luhn digits. */
const TRACKER_IDS = ['004999010640000', '004999010640018', '004999010640026', '004999010640034'];

/** Four trackers, half of them with a label beyond ASCII; one reading in ten without a position. */
export const madeUp: ReadingSource = (count) => {
  const random = randomStream('bench', 'encode');
  return Array.from({ length: count }, (_, i): Reading => {
    const tracker = i % 4;
    const placed = random.below(10) > 0;
    const at = <T>(value: T): T | null => (placed ? value : null);
    return {
      id: TRACKER_IDS[tracker % TRACKER_IDS.length] ?? '',
      label: tracker % 2 === 0 ? `crate ${tracker}` : `kühl ${tracker}`,
      boot: 1 + random.below(5),
      seq: i,
      atMs: 1_930_000_000_000 + i * 1000 + random.below(1000),
      clock: 'gnss',
      fix: placed ? '3d' : 'none',
      latDegE7: at(-383_912_345 + random.below(1_000_000)),
      lonDegE7: at(-142_000_000 + random.below(1_000_000)),
      altME1: at(random.below(3000)),
      speedMpsE2: at(random.below(1500)),
      courseDegE1: at(random.below(3600)),
      satellites: placed ? 4 + random.below(10) : 0,
      hdopE1: at(7 + random.below(30)),
      accuracyME1: at(20 + random.below(100)),
      airTempCE2: 400 + random.below(400) - 200,
      humidityPctE1: 600 + random.below(200),
      pressurePa: 100_000 + random.below(2000),
      accelMps2E2: random.below(900),
      batteryVE3: 3600 + random.below(500),
      batteryPct: random.below(101),
      rsrpDbm: -70 - random.below(60),
      rsrqDbE1: -30 - random.below(160),
    };
  });
};

export interface EncodeCost {
  readonly way: string;
  readonly nsPerReading: number;
  /** To bare JSON.stringify. */
  readonly ratio: number;
  /** Sum of lengths: the same work gives the same number. */
  readonly work: number;
}

/** Times every way of encoding the readings of `source`, one reading a message. */
export function encodeCosts(source: ReadingSource, count: number, rounds: number): EncodeCost[] {
  const readings = source(count);
  const singles = readings.map((r) => [r]);
  const objects = readings.map(wireReading);
  const [plain, json, cbor] = [codecFor('plain'), codecFor('senml-json'), codecFor('senml-cbor')];
  const each =
    <T>(items: readonly T[], length: (item: T) => number) =>
    (): number => {
      let sum = 0;
      for (const item of items) sum += length(item);
      return sum;
    };
  const ways: readonly (readonly [string, () => number])[] = [
    ['bare JSON.stringify', each(objects, (o) => JSON.stringify(o).length)],
    ['JSON.stringify to bytes', each(objects, (o) => Buffer.from(JSON.stringify(o)).length)],
    ['plain, to bytes', each(singles, (r) => plain.encode(r).length)],
    ['senml-json, to bytes', each(singles, (r) => json.encode(r).length)],
    ['senml-cbor, to bytes', each(singles, (r) => cbor.encode(r).length)],
  ];
  const best = ways.map(() => Number.POSITIVE_INFINITY);
  const work = ways.map(() => 0);
  for (let round = 0; round < rounds; round++) {
    for (const [i, [, run]] of ways.entries()) {
      const from = process.hrtime.bigint();
      work[i] = run();
      const ns = Number(process.hrtime.bigint() - from) / count;
      best[i] = Math.min(best[i] ?? ns, ns);
    }
  }
  const bare = best[0] ?? 1;
  return ways.map(([way], i) => {
    const nsPerReading = best[i] ?? Number.NaN;
    return { way, nsPerReading, ratio: nsPerReading / bare, work: work[i] ?? 0 };
  });
}

if (process.argv[1] !== undefined && import.meta.url === pathToFileURL(process.argv[1]).href) {
  for (const { way, nsPerReading, ratio, work } of encodeCosts(madeUp, 20_000, 15)) {
    console.log(
      `${way.padEnd(24)} ${nsPerReading.toFixed(0).padStart(7)} ns/reading  × ${ratio.toFixed(2).padStart(5)}  work ${work}`,
    );
  }
}
