// What must, may and must not come out.
import { describe, expect, it } from 'vitest';
import { dueByEvidence, type Delivery } from '../../harness/expected/due.ts';
import { ExpectedTracker, type Due, type DueOf, type Naming } from '../../harness/expected/expected.ts';
import { RangeSet, rosterOf, trackerEvents, type Emission, type Scenario } from '../../sim/index.ts';
import { defaultContract, parseContract } from '../../harness/contract/read-contract.ts';
import { cellsOf, csvBytes, ids, idealRows, judged } from '../support/ideal-export.ts';
import { scenarioOf } from '../support/scenarios.ts';

const BY_NUMBER: Naming = { boot: true, seq: true, atUnitMs: null, repeatsStand: false };
const BY_TIME: Naming = { boot: false, seq: false, atUnitMs: 1, repeatsStand: false };

const crate = (more: object, faults: readonly object[] = [], lasts = '20min') =>
  scenarioOf({
    seed: 'expected',
    lasts,
    fleet: [
      {
        name: 'one',
        count: 1,
        labels: ['a'],
        motion: { kind: 'parked', at: 'ostrel-quay' },
        report: { every: '60s' },
        ...more,
      },
    ],
    faults,
  });

function only(scenario: Scenario) {
  const [spec] = rosterOf(scenario);
  if (!spec) throw new Error('an empty fleet');
  return spec;
}

function emissionsOf(scenario: Scenario): Emission[] {
  return [...trackerEvents(scenario, only(scenario))].filter((event) => event.kind === 'emission');
}

const tracker = (scenario: Scenario, dueOf: DueOf = () => 'must', naming = BY_NUMBER) =>
  new ExpectedTracker(scenario, only(scenario), dueOf, naming);

describe('dueByEvidence', () => {
  const scenario = crate({});
  const spec = only(scenario);
  const sent = emissionsOf(scenario);
  const emission = sent.find(({ readings }) => readings.length > 0);
  const reading = emission?.readings[0];
  const set = (has: boolean) => {
    const numbers = new RangeSet();
    if (has && emission) numbers.add(emission.n);
    return numbers;
  };
  const due = (
    attempted: boolean,
    acked: boolean,
    accepted: boolean | undefined,
    {
      latenessMs = Infinity,
      heardAll = true,
      qos = 1,
    }: { latenessMs?: number; heardAll?: boolean; qos?: 0 | 1 } = {},
  ) => {
    if (!emission || !reading) throw new Error('nothing was sent');
    const delivery: Delivery = {
      attempted: set(attempted),
      acked: set(acked),
      accepted: accepted === undefined ? undefined : set(accepted),
    };
    return dueByEvidence(new Map([[spec.identity.imei, delivery]]), {
      latenessMs,
      heardAll,
      ledgerWhole: true,
    })(spec, { ...emission, qos }, reading);
  };

  it('goes by the tap where there is one', () => {
    expect(due(true, true, true)).toBe('must');
    expect(due(true, false, true)).toBe('must');
    // Acked and not accepted is the broker's fault: the pipeline may have the row or not.
    expect(due(true, true, false)).toBe('may');
    expect(due(false, false, false)).toBe('never');
  });

  it('takes what the broker has for sent, even where the ledger was cut short', () => {
    expect(due(false, false, true)).toBe('must');
  });

  it('goes by the acknowledgement without one, which QoS 0 never has', () => {
    expect(due(true, true, undefined)).toBe('must');
    expect(due(true, false, undefined)).toBe('may');
    expect(due(false, false, undefined)).toBe('never');
  });

  it('owes nothing at QoS 0 where the pipeline was away, and everything where it was not', () => {
    expect(due(true, false, true, { qos: 0 })).toBe('must');
    expect(due(true, false, true, { qos: 0, heardAll: false })).toBe('may');
    expect(due(true, true, true, { qos: 1, heardAll: false })).toBe('must');
  });

  it('lets the contract refuse what is late, and not what is just in time', () => {
    const lateMs = (emission?.atMs ?? 0) - (reading?.atMs ?? 0);
    expect(due(true, true, true, { latenessMs: lateMs })).toBe('must');
    expect(due(true, true, true, { latenessMs: lateMs - 1 })).toBe('may');
  });

  it('knows of a tracker that has no evidence at all that it never sent', () => {
    if (!emission || !reading) throw new Error('nothing was sent');
    expect(
      dueByEvidence(new Map(), { latenessMs: Infinity, heardAll: true, ledgerWhole: true })(
        spec,
        emission,
        reading,
      ),
    ).toBe('never');
  });
});

describe('ExpectedTracker', () => {
  it('finds each reading once, in any order, and the rest afterwards', () => {
    const scenario = crate({});
    const readings = emissionsOf(scenario).flatMap((emission) => emission.readings);
    const expected = tracker(scenario);
    for (const { boot, seq, atMs } of readings.slice(5).toReversed()) {
      expect(expected.find(boot, seq, atMs)).toMatchObject({ kind: 'first', expected: { reading: { seq } } });
    }
    expect(expected.find(1, 7, 0).kind).toBe('again');
    expect(expected.find(1, 7_000, 0)).toEqual({ kind: 'never', made: false });
    expect(expected.find(2, 7, 0)).toEqual({ kind: 'never', made: false });
    expect([...expected.rest()].map(({ reading }) => reading)).toEqual(readings.slice(0, 5));
  });

  it('tells a reading that was made and stayed in the buffer', () => {
    const scenario = crate({}, [{ kind: 'no-coverage', from: '10min', until: '20min', on: 'everyone' }]);
    const sent = new Set(emissionsOf(scenario).flatMap(({ readings }) => readings.map(({ seq }) => seq)));
    const discarded = [...trackerEvents(scenario, only(scenario))].flatMap((event) =>
      event.kind === 'discard' ? event.readings : [],
    );
    expect(discarded.length).toBeGreaterThan(3);
    const expected = tracker(scenario);
    for (const { boot, seq, atMs } of discarded) {
      expect(sent.has(seq)).toBe(false);
      expect(expected.find(boot, seq, atMs)).toEqual({ kind: 'never', made: true });
    }
    expect([...expected.rest()]).toHaveLength(sent.size);
  });

  it('counts a deliberate repeat once, and as accepted when either copy was', () => {
    const scenario = crate({}, [
      { kind: 'repeat-send', from: '0min', until: '20min', share: '1/1', on: 'everyone' },
    ]);
    const emissions = emissionsOf(scenario).filter(({ readings }) => readings.length > 0);
    const firsts = emissions.filter(({ repeat }) => !repeat);
    expect(emissions).toHaveLength(firsts.length * 2);
    for (const [first, second, due] of [
      ['must', 'may', 'must'],
      ['may', 'must', 'must'],
      ['may', 'may', 'may'],
      ['never', 'must', 'must'],
      ['must', 'never', 'must'],
    ] as const) {
      const dueOf = (_: unknown, { repeat }: Emission): Due | 'never' => (repeat ? second : first);
      const rest = [...tracker(scenario, dueOf).rest()];
      expect(rest.map((reading) => reading.due)).toEqual(firsts.map(() => due));
    }
  });

  it('remembers what a repeat was, where repeats stand', () => {
    const scenario = crate({});
    const [, second] = emissionsOf(scenario).flatMap(({ readings }) => readings);
    if (!second) throw new Error('too few readings');
    const expected = tracker(scenario, () => 'must', { ...BY_NUMBER, repeatsStand: true });
    expected.find(second.boot, second.seq, second.atMs);
    expect(expected.find(second.boot, second.seq, second.atMs)).toMatchObject({
      kind: 'again',
      expected: { reading: second },
    });
  });
});

describe('readings that the contract cannot tell apart', () => {
  // The clock starts from the same default after each power cut, so that times come again.
  const scenario = crate(
    { lifecycle: { clockSurvives: false } },
    [
      { kind: 'clock-unset', from: '0min', until: '30min', on: 'everyone' },
      { kind: 'power-cut', from: '10min', until: '12min', on: 'everyone' },
    ],
    '30min',
  );
  const contract = parseContract(
    `wayproof: contract/1
title: by time
columns:
  - { name: id, field: id }
  - { name: at, field: at }
  - { name: temp, field: airTempC }
  - { name: volt, field: batteryV }
identity: [id, at]
perTracker: none
`,
    'c.yaml',
  );
  const rows = idealRows(scenario, contract);
  const times = rows.map(({ reading }) => reading.atMs);
  const twins = rows.filter(({ reading }) => times.filter((atMs) => atMs === reading.atMs).length > 1);
  const firsts = rows.filter(({ reading }, k) => times.indexOf(reading.atMs) === k);
  const lasts = rows.filter(({ reading }, k) => times.lastIndexOf(reading.atMs) === k);
  const of = async (some: typeof rows, promise = contract) =>
    ids(await judged({ scenario, contract: promise, whole: csvBytes(promise, cellsOf(some)) }), 'broken');

  it('exist here', () => {
    expect(twins.length).toBeGreaterThan(4);
    expect(twins.some(({ cells }, k) => k > 0 && cells[3] !== twins[0]?.cells[3])).toBe(true);
  });

  it('are one row, which may be either of them, or a row each', async () => {
    expect(await of(firsts)).toEqual([]);
    expect(await of(lasts)).toEqual([]);
    expect(await of(rows)).toEqual([]);
    expect(await of([...rows, ...twins.slice(0, 1)])).toEqual(['ingest.no-repeats']);
    expect(await of(rows, { ...contract, repeats: 'keep' })).toEqual([]);
  });

  it('are not a licence for any value', async () => {
    const wrong = lasts.map((row) => ({ ...row, cells: row.cells.with(3, '1.5') }));
    expect(await of(wrong)).toEqual(['values.numbers']);
    expect(await of(lasts.slice(1))).toEqual(['ingest.complete']);
  });

  it('are all told apart by boot and sequence', async () => {
    const full = defaultContract();
    const whole = csvBytes(full, cellsOf(idealRows(scenario, full)));
    const broken = ids(
      await judged({ scenario, contract: { ...full, perTracker: 'none' }, whole }),
      'broken',
    );
    expect(broken).toEqual([]);
  });

  it('name each other', () => {
    const expected = tracker(scenario, () => 'must', BY_TIME);
    const [first] = twins;
    if (!first) throw new Error('no twins');
    const found = expected.find(0, 0, first.reading.atMs);
    expect(found).toMatchObject({ kind: 'first', expected: { twins: [{ atMs: first.reading.atMs }] } });
    expect(expected.find(0, 0, first.reading.atMs)).toMatchObject({ kind: 'again', twin: true });
    expect(expected.find(0, 0, first.reading.atMs)).toMatchObject({ kind: 'again', twin: false });
  });
});
