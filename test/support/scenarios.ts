// Scenarios for tests: short ones by hand, and any at all by fast-check.
import fc from 'fast-check';
import { parseScenario, type Scenario } from '../../sim/index.ts';

/** A scenario file as an object, before it is read. */
export type Draft = Readonly<Record<string, unknown>>;

/** Reads a draft as if it were a file in scenarios/. */
export function scenarioOf(draft: Draft, seed?: string): Scenario {
  const text = JSON.stringify({
    wayproof: 'scenario/1',
    title: 'a test',
    shows: 'what a test needs',
    ...draft,
  });
  return parseScenario(text, 'scenarios/test.yaml', seed === undefined ? {} : { seed });
}

const motion = fc.oneof(
  fc.constantFrom(
    { kind: 'parked', at: 'ostrel-quay' },
    { kind: 'parked', at: 'cold-store' },
    { kind: 'parked', at: 'cold-store-sill' },
    { kind: 'parked', at: [179.999, -12, 3] },
    { kind: 'roam', within: 'moor' },
    { kind: 'route', along: 'ferry' },
  ),
  fc.record({
    kind: fc.constant('route'),
    along: fc.constantFrom('coast-road', 'upland-road'),
    speedMps: fc.integer({ min: 1, max: 25 }),
    dwell: fc.constantFrom('0s', '5min'),
    // oxlint-disable-next-line unicorn/no-thenable -- `then` is a word of the scenario format
    then: fc.constantFrom('turn-back', 'start-over', 'stay'),
  }),
);

const label = fc.oneof(
  fc.constantFrom(
    'crate {n}',
    '=1+1',
    '+4',
    '-1',
    '@x',
    '007',
    'a "quoted" one',
    'two\r\nlines',
    ' ',
    '',
    'снег 🧊',
    ';,\t',
  ),
  fc.string({ unit: 'grapheme', maxLength: 20 }),
);

const group = (name: string, qos: fc.Arbitrary<number>) =>
  fc.record({
    name: fc.constant(name),
    count: fc.integer({ min: 1, max: 3 }),
    labels: fc.array(label, { minLength: 1, maxLength: 3 }),
    motion,
    report: fc.record({
      every: fc.constantFrom('20s', '60s', '5min'),
      afterReboot: fc.constantFrom('starts-again', 'goes-on'),
    }),
    buffer: fc.record({
      holds: fc.integer({ min: 1, max: 50 }),
      whenFull: fc.constantFrom('drop-oldest', 'drop-newest'),
      flush: fc.constantFrom('oldest-first', 'newest-first'),
      batchOf: fc.integer({ min: 1, max: 20 }),
      survivesPowerLoss: fc.boolean(),
    }),
    radio: fc.record({
      outages: fc.record({
        step: fc.constant('60s'),
        toBad: fc.constantFrom('0/1', '1/50', '1/5'),
        toGood: fc.constantFrom('1/2', '1/10'),
      }),
      lossLooksLike: fc.constantFrom('clean', 'reset', 'half-open'),
    }),
    mqtt: fc.record({
      readingsTopic: fc.constant('tarn/{group}/{id}/readings'),
      payload: fc.constantFrom('plain', 'senml-json', 'senml-cbor'),
      qos,
      session: fc.constantFrom('persistent', 'clean'),
      inFlight: fc.integer({ min: 1, max: 20 }),
      status: fc.boolean(),
    }),
  });

const span = fc
  .tuple(fc.integer({ min: 0, max: 100 }), fc.integer({ min: 1, max: 60 }))
  .map(([from, length]) => ({ from: `${from}min`, until: `${Math.min(from + length, 120)}min` }));

const fault = fc
  .tuple(
    span,
    fc.oneof(
      fc.constant({ kind: 'no-coverage' }),
      fc.constant({ kind: 'power-cut' }),
      fc.constant({ kind: 'clock-unset' }),
      fc.constantFrom('+90s', '-2h', '+30d').map((by) => ({ kind: 'clock-jump', by })),
      fc.constantFrom('1/2', '1/9', '1/1').map((share) => ({ kind: 'repeat-send', share })),
      fc
        .constantFrom('clean', 'reset', 'half-open')
        .map((how) => ({ kind: 'link-drop', how, every: '10min' })),
      fc.constantFrom('open', 'window', 'indoor').map((sky) => ({ kind: 'sky', sky })),
      fc.constantFrom('airTemp', 'pressure').map((sensor) => ({ kind: 'sensor-silent', sensor })),
      fc.constantFrom('humidity', 'accel').map((sensor) => ({ kind: 'sensor-stuck', sensor })),
    ),
    fc.constantFrom('everyone', 'first'),
  )
  .map(([when, what, on]) => ({ ...what, ...when, on }));

/** Any scenario of two hours, with one or two groups and up to four faults. */
export function anyDraft(qos: fc.Arbitrary<number> = fc.constantFrom(0, 1, 2)): fc.Arbitrary<Draft> {
  return fc.record({
    seed: fc.string({ minLength: 1, maxLength: 8 }).filter((text) => text.trim() !== ''),
    lasts: fc.constant('2h'),
    fleet: fc
      .tuple(group('first', qos), fc.option(group('second', qos), { nil: undefined }))
      .map(([first, second]) => (second === undefined ? [first] : [first, second])),
    faults: fc.array(fault, { maxLength: 4 }),
  });
}
