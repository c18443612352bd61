import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { existsSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { BadInput, NotCompleted } from '../../sim/errors.ts';
import { DelayHistogram } from '../../sim/publish/delay.ts';
import { Ledger } from '../../sim/publish/ledger.ts';
import { readLedger } from '../../sim/publish/read-ledger.ts';

const HEADER = { seed: 'tarn-1', scenario: 'c0ffee' };
const A = '004401000000005';
const B = '004401000000013';

let folder = '';
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'wayproof-ledger-'));
});
afterAll(async () => {
  await rm(folder, { recursive: true });
});

/** A ledger of two trackers, flushed twice on the way. */
async function written(file: string): Promise<void> {
  const ledger = await Ledger.open(file, HEADER, 3_600_000);
  const a = ledger.tracker(A);
  ledger.link(A, 'connect');
  for (let n = 0; n < 6; n++) a.attempted(n, 10 + n, true);
  for (const n of [0, 1, 2, 4]) a.acked(n, 20 + n, 10);
  await ledger.flush();
  ledger.link(A, 'drop', 'half-open');
  a.sentAgain(3);
  a.acked(3, 40, 27);
  ledger.tracker(B).attempted(0, 41, false);
  await ledger.flush();
  a.attempted(6, 50, true);
  a.refused(6);
  await ledger.close();
}

describe('ledger', () => {
  it('tells the four outcomes apart, read back as in memory', async () => {
    const file = join(folder, 'four.ndjson');
    await written(file);
    const record = await readLedger(file);
    expect(record.closed).toBe(true);
    expect(record.header).toEqual(HEADER);
    const outcomes = [0, 1, 2, 3, 4, 5, 6, 7].map((n) => record.outcome(A, n));
    expect(outcomes.join(' ')).toBe('acked acked acked acked acked unknown refused never-sent');
    // QoS 0 has no acknowledgement, so what was written stays unknown.
    expect(record.outcome(B, 0)).toBe('unknown');
    expect(record.trackers.get(B)?.sets.written.toText()).toBe('0');
    expect(record.outcome('004401000000021', 0)).toBe('never-sent');
    const tracker = record.trackers.get(A);
    expect(tracker?.sets.again.toText()).toBe('3');
    expect(tracker?.attempts).toEqual({ firstMs: 10, lastMs: 50 });
    expect(tracker?.acks).toEqual({ firstMs: 20, lastMs: 40 });
    expect(record.links.map((link) => [link.event, link.how])).toEqual([
      ['connect', ''],
      ['drop', 'half-open'],
    ]);
    expect(record.delay).toMatchObject({ count: 5, minMs: 10, maxMs: 27, meanMs: 13.4 });
  });

  it('writes consecutive emissions as one range', async () => {
    const file = join(folder, 'ranges.ndjson');
    await written(file);
    const lines = (await readFile(file, 'utf8')).split('\n');
    expect(lines.some((line) => line.includes('"attempted":"0-5"'))).toBe(true);
    expect(lines.some((line) => line.includes('"acked":"0-2,4"'))).toBe(true);
  });

  it('is readable when cut at any byte, and never says more than the whole', async () => {
    const whole = join(folder, 'whole.ndjson');
    await written(whole);
    const bytes = await readFile(whole);
    const full = await readLedger(whole);
    const cut = join(folder, 'cut.ndjson');
    await fc.assert(
      fc.asyncProperty(fc.nat({ max: bytes.length - 1 }), async (size) => {
        await writeFile(cut, bytes.subarray(0, size));
        const record = await readLedger(cut);
        expect(record.closed).toBe(false);
        for (const [id, tracker] of record.trackers) {
          for (const note of ['attempted', 'again', 'written', 'acked', 'refused'] as const) {
            for (const n of tracker.sets[note]) {
              expect(full.trackers.get(id)?.sets[note].has(n)).toBe(true);
            }
          }
        }
      }),
      { seed: 21, numRuns: 150 },
    );
  });

  it('names file, line and pointer of a line that was changed by hand', async () => {
    const file = join(folder, 'changed.ndjson');
    await writeFile(
      file,
      '{"wayproof":"ledger/1","seed":"s","scenario":"d"}\n{"ms":1,"tracker":"a","acked":"3-1"}\n',
    );
    await expect(readLedger(file)).rejects.toThrow(/changed\.ndjson:2: \/acked: expected ranges/);
    await writeFile(file, '{"wayproof":"ledger/1","seed":"s","scenario":"d"}\nnonsense\n');
    await expect(readLedger(file)).rejects.toBeInstanceOf(BadInput);
    await writeFile(file, '{"some":"other file"}\n');
    await expect(readLedger(file)).rejects.toThrow(/expected the header of a ledger/);
    await expect(readLedger(join(folder, 'absent'))).rejects.toBeInstanceOf(BadInput);
  });

  it('says a place that can’t be written to in one line', async () => {
    const opening = Ledger.open(join(folder, 'no', 'such', 'folder.ndjson'), HEADER);
    await expect(opening).rejects.toThrow(/expected a place that can be written to, found ENOENT/);
  });

  it.skipIf(!existsSync('/dev/full'))('fails at close when the disk is full', async () => {
    const ledger = await Ledger.open('/dev/full', HEADER);
    ledger.tracker(A).attempted(0, 1, true);
    await expect(ledger.close()).rejects.toBeInstanceOf(NotCompleted);
  });
});

describe('DelayHistogram', () => {
  it('keeps minimum, mean and maximum exactly, and quantiles within one bucket (2^(1/8), 9.05 %)', () => {
    fc.assert(
      fc.property(
        fc.array(fc.double({ min: 0.02, max: 1e6, noNaN: true }), { minLength: 1, maxLength: 200 }),
        (delays) => {
          const histogram = new DelayHistogram();
          for (const delay of delays) histogram.record(delay);
          const sorted = delays.toSorted((a, b) => a - b);
          for (const q of [0.01, 0.5, 0.9, 0.99, 1]) {
            const exact = sorted[Math.max(1, Math.ceil(q * sorted.length)) - 1] ?? Number.NaN;
            expect(histogram.quantileMs(q)).toBeGreaterThanOrEqual(exact * (1 - 1e-9));
            expect(histogram.quantileMs(q)).toBeLessThanOrEqual(exact * 2 ** (1 / 8) * (1 + 1e-9));
          }
          const summary = histogram.summary();
          expect(summary.count).toBe(delays.length);
          expect(summary.minMs).toBeCloseTo(sorted[0] ?? 0, 2);
          expect(summary.maxMs).toBeCloseTo(sorted.at(-1) ?? 0, 2);
        },
      ),
      { seed: 31 },
    );
  });
});
