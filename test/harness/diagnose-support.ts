// Instances for the tests of diagnosis: real readings of a small fleet, as a perfect pipeline would export them.
import { cellJudge } from '../../harness/checks/cell.ts';
import type { Column, ColumnForm, Contract } from '../../harness/contract/contract.ts';
import { defaultContract } from '../../harness/contract/read-contract.ts';
import type { CellInstance, ReadingInstance, RowInstance } from '../../harness/diagnose/index.ts';
import type { ExpectedReading } from '../../harness/expected/expected.ts';
import { emissionPayload, rosterOf, trackerEvents, type Reading, type Scenario } from '../../sim/index.ts';
import { scenarioOf } from '../support/scenarios.ts';

/** Eight trackers for nine hours in cold weather, with everything that makes readings differ. */
export const FLEET: Scenario = scenarioOf({
  seed: 'diagnosis',
  lasts: '9h',
  weather: { meanTempC: 2.5 },
  fleet: [
    {
      name: 'trikes',
      count: 3,
      labels: ['Trike {n}', 'He said "cold", twice', '007'],
      motion: { kind: 'route', along: 'coast-road' },
      mqtt: { payload: 'senml-cbor', readingsTopic: 'tarn/{group}/{id}/readings' },
    },
    {
      name: 'crates',
      count: 5,
      labels: [
        'crate {n}',
        '=1+1',
        '🧊 Cafe\u0301 снег',
        '  both ends  ',
        'A rather long label of 47 characters, not more',
      ],
      motion: { kind: 'parked', at: 'ostrel-quay' },
      buffer: { flush: 'newest-first' },
    },
  ],
  faults: [
    { kind: 'no-coverage', on: 'trikes#2', from: '1h', until: '1h30min' },
    { kind: 'no-coverage', on: ['crates#1', 'trikes#1'], from: '4h', until: '4h40min' },
    { kind: 'sky', on: 'crates#2', from: '1h', until: '2h', sky: 'indoor' },
    { kind: 'power-cut', on: ['trikes#3', 'crates#3'], from: '2h', until: '2h20min' },
    { kind: 'clock-unset', on: 'crates#4', from: '3h', until: '4h' },
    { kind: 'clock-jump', on: 'crates#5', from: '5h', until: '6h', by: '+90s' },
    { kind: 'sensor-silent', on: 'crates#2', from: '7h', until: '8h', sensor: 'airTemp' },
  ],
});

/** Every reading that was sent, in order of arrival, with all that the checks could know. */
export function sentReadings(scenario: Scenario): ReadingInstance[] {
  const all: ReadingInstance[] = [];
  for (const spec of rosterOf(scenario)) {
    let highestSeq = -1;
    let latestSentMs = Number.NEGATIVE_INFINITY;
    let before: Reading | undefined;
    let burst = { fromMs: Number.NEGATIVE_INFINITY, readings: 0 };
    const boots = new Map<number, number>();
    const times = new Map<number, number>();
    const own: ReadingInstance[] = [];
    for (const event of trackerEvents(scenario, spec)) {
      if (event.kind !== 'emission' || event.repeat || event.purpose !== 'readings') continue;
      const payloadBytes = emissionPayload(spec, event).length;
      if (event.atMs - burst.fromMs > 1000) burst = { fromMs: event.atMs, readings: 0 };
      burst.readings += event.readings.length;
      let newestBeforeMs = latestSentMs;
      event.readings.forEach((reading, inBatch) => {
        const expected: ExpectedReading = { reading, emission: event, inBatch, due: 'must', twins: [] };
        const firstBoot = boots.get(reading.seq);
        if (firstBoot === undefined) boots.set(reading.seq, reading.boot);
        times.set(reading.atMs, (times.get(reading.atMs) ?? 0) + 1);
        own.push({
          expected,
          before,
          highestSeq,
          latestSentMs,
          newestBeforeMs,
          ownBurst: burst.readings,
          arrival: 0,
          payloadKind: spec.group.mqtt.payload,
          payloadBytes,
          seqOfEarlierBoot: firstBoot !== undefined && firstBoot < reading.boot,
        });
        before = reading;
        newestBeforeMs = Math.max(newestBeforeMs, reading.atMs);
        highestSeq = Math.max(highestSeq, reading.seq);
      });
      for (const reading of event.readings) latestSentMs = Math.max(latestSentMs, reading.atMs);
    }
    for (const one of own) {
      all.push({ ...one, sameTimeAsOther: (times.get(one.expected.reading.atMs) ?? 0) > 1 });
    }
  }
  const arrived = all.toSorted(
    (a, b) =>
      a.expected.emission.atMs - b.expected.emission.atMs ||
      (a.expected.reading.id < b.expected.reading.id ? -1 : 1) *
        Number(a.expected.reading.id !== b.expected.reading.id) ||
      a.expected.emission.n - b.expected.emission.n ||
      a.expected.inBatch - b.expected.inBatch,
  );
  let arrival = -1;
  let last: unknown;
  const ranks = new Map(arrived.toSorted(byExport).map((one, rank) => [one, rank]));
  return arrived.map((one) => {
    if (one.expected.emission !== last) arrival += 1;
    last = one.expected.emission;
    return { ...one, arrival, exportRank: ranks.get(one) ?? 0 };
  });
}

function byExport(a: ReadingInstance, b: ReadingInstance): number {
  const [x, y] = [a.expected.reading, b.expected.reading];
  return x.atMs - y.atMs || (x.id === y.id ? x.boot - y.boot || x.seq - y.seq : x.id < y.id ? -1 : 1);
}

export const SENT = sentReadings(FLEET);

/** The readings that came out, by the contract's order. */
export const EXPORTED: readonly ReadingInstance[] = SENT.toSorted(byExport);

/** One in four of them, which is enough for cells. */
const SOME: readonly ReadingInstance[] = EXPORTED.filter((_, k) => k % 4 === 0);

/** Splits by what a pipeline would have lost. */
export function split<T>(all: readonly T[], lost: (one: T) => boolean): [T[], T[]] {
  return [all.filter((one) => lost(one)), all.filter((one) => !lost(one))];
}

/** The reference contract with one column written in another form. */
export function contractWith(column: string, form: Partial<ColumnForm>): Contract {
  const contract = defaultContract();
  return {
    ...contract,
    columns: contract.columns.map((one) =>
      one.name === column ? { ...one, form: { ...one.form, ...form } as ColumnForm } : one,
    ),
  };
}

const written = (columns: readonly Column[], reading: Reading): string[] =>
  columns.map((column) => cellJudge(column, '')?.expected(reading) ?? '');

/** The rows of a perfect export, cell by cell, of the readings given. */
export function perfectCells(
  column: string,
  readings: readonly ReadingInstance[] = SOME,
  contract: Contract = defaultContract(),
): CellInstance[] {
  const { columns } = contract;
  const at = columns.findIndex(({ name }) => name === column);
  const of = columns[at];
  if (!of) throw new Error(`no column ${column}`);
  const last = new Map<string, Reading>();
  let rowBefore: Reading | undefined;
  return readings.map(({ expected: { reading, emission } }) => {
    const cells = written(columns, reading);
    const cell = cells[at] ?? '';
    const before = last.get(reading.id);
    const above = rowBefore;
    last.set(reading.id, reading);
    rowBefore = reading;
    return {
      column: of,
      cell,
      expected: cell,
      reading,
      before,
      cells,
      columns,
      emission,
      ...(above && { rowBefore: above }),
    };
  });
}

/** What a defect makes of the cells, split as the checks would split it. */
export function damaged(
  cells: readonly CellInstance[],
  damage: (cell: CellInstance) => string,
): [CellInstance[], CellInstance[]] {
  const all = cells.map((cell) => {
    const made = damage(cell);
    const at = cell.columns.indexOf(cell.column);
    return { ...cell, cell: made, cells: cell.cells.with(at, made) };
  });
  const isBroken = ({ cell, reading, column }: CellInstance) =>
    cellJudge(column, '')?.judge(cell, reading) !== undefined;
  return split(all, isBroken);
}

/** Rows of an export, given in the order in which they stand. */
export function rowsOf(
  readings: readonly ReadingInstance[],
  contract: Contract = defaultContract(),
): RowInstance[] {
  const { columns, order } = contract;
  const fleetIds = rosterOf(FLEET).map(({ identity }) => identity.imei);
  let before: readonly string[] | undefined;
  let arrivalBefore: number | undefined;
  return readings.map(({ expected: { reading }, arrival }, k) => {
    const cells = written(columns, reading);
    const row: RowInstance = {
      cells,
      columns,
      record: k + 2,
      before,
      firstRecord: undefined,
      atMs: reading.atMs,
      fleetIds,
      order,
      arrival,
      ...(arrivalBefore === undefined ? {} : { arrivalBefore }),
    };
    before = cells;
    arrivalBefore = arrival;
    return row;
  });
}

/** Cells of labels as given, one tracker after another, of one reading in twenty. */
export function labelled(labels: readonly string[]): CellInstance[] {
  return perfectCells(
    'label',
    EXPORTED.filter((_, k) => k % 20 === 0).map((one, k) => ({
      ...one,
      expected: {
        ...one.expected,
        reading: { ...one.expected.reading, label: labels[k % labels.length] ?? '' },
      },
    })),
  );
}
