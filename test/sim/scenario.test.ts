import { readdirSync, readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { parseScenario, readScenario } from '../../sim/scenario/read-scenario.ts';
import { resolvedText } from '../../sim/scenario/resolved-text.ts';
import type { Scenario } from '../../sim/scenario/scenario.ts';
import { GENERATED, typesOf } from '../support/generate-types.ts';

const FOLDER = new URL('../../scenarios/', import.meta.url);
const FILES = readdirSync(FOLDER).filter((name) => name.endsWith('.yaml'));
const read = (name: string) => readScenario(new URL(name, FOLDER).pathname);
const count = ({ groups }: Scenario) => groups.reduce((sum, group) => sum + group.count, 0);

const SMALLEST = `
wayproof: scenario/1
title: smallest
lasts: 1h
fleet:
  - { name: crates, count: 2, motion: { kind: parked, at: ostrel-quay } }
`;

describe('the scenarios that come along', () => {
  it.each(FILES)('%s is sound and says what it shows', (name) => {
    const scenario = read(name);
    expect(scenario.title).not.toBe('');
    expect(scenario.shows.length).toBeGreaterThan(40);
    expect(scenario.endMs).toBeGreaterThan(scenario.startMs);
    expect(() => JSON.parse(resolvedText(scenario)) as unknown).not.toThrow();
    const { lines, areas } = scenario.place;
    const strayed = scenario.groups.filter(
      ({ motion }) =>
        (motion.kind === 'route' && !lines.has(motion.along)) ||
        (motion.kind === 'roam' && !areas.has(motion.within)),
    );
    expect(strayed).toEqual([]);
  });

  it('are named by the issue they show', () => {
    expect(FILES).toEqual(
      expect.arrayContaining([
        'all-payloads.yaml',
        'antimeridian.yaml',
        'awkward-labels.yaml',
        'clock-unset.yaml',
        'duplicate-sends.yaml',
        'every-fault.yaml',
        'ferry-crossing.yaml',
        'flat-battery.yaml',
        'from-the-box.yaml',
        'indoor-no-fix.yaml',
        'quiet-day.yaml',
        'tunnel-and-upland.yaml',
        'two-hundred-trackers.yaml',
        'window-sill.yaml',
        'wrong-image.yaml',
        'zero-reef.yaml',
      ]),
    );
  });

  it('quiet-day has 12 trackers for a day', () => {
    const scenario = read('quiet-day.yaml');
    expect([count(scenario), scenario.endMs - scenario.startMs]).toEqual([12, 86_400_000]);
    expect(scenario.faults).toEqual([]);
  });

  it('two-hundred-trackers makes 288 000 readings', () => {
    const scenario = read('two-hundred-trackers.yaml');
    const minutes = (scenario.endMs - scenario.startMs) / 60_000;
    expect(scenario.groups.every(({ report }) => report.everyMs === 60_000)).toBe(true);
    expect(count(scenario) * minutes).toBe(288_000);
  });

  it('every-fault has each kind, each way of dropping a link and each sensor fault', () => {
    const { faults } = read('every-fault.yaml');
    expect([...new Set(faults.map(({ kind }) => kind))].toSorted()).toEqual([
      'clock-jump',
      'clock-unset',
      'link-drop',
      'no-coverage',
      'power-cut',
      'repeat-send',
      'sensor-silent',
      'sensor-spikes',
      'sensor-stuck',
      'sky',
    ]);
    const drops = faults.flatMap((fault) => (fault.kind === 'link-drop' ? [fault.how] : []));
    expect(drops).toEqual(['clean', 'reset', 'half-open']);
  });

  it('awkward-labels reaches the models character for character, a tracker each', () => {
    const group = read('awkward-labels.yaml').groups[0];
    expect(group?.labels).toHaveLength(group?.count ?? -1);
    for (const label of [
      'two\r\nlines',
      '=1+1',
      '007',
      '',
      '  both ends  ',
      'Cafe\u0301',
      'Caf\u00e9',
      '"',
    ]) {
      expect(group?.labels).toContain(label);
    }
    expect(Math.max(...(group?.labels.map(({ length }) => length) ?? []))).toBeGreaterThan(1000);
  });

  it('all-payloads has each payload', () => {
    const payloads = read('all-payloads.yaml').groups.map(({ mqtt }) => mqtt.payload);
    expect(payloads).toEqual(['plain', 'senml-json', 'senml-cbor']);
  });
});

describe('resolving', () => {
  it('fills in every default', () => {
    const scenario = parseScenario(SMALLEST, 's.yaml');
    expect(JSON.parse(resolvedText(scenario))).toMatchInlineSnapshot(`
      {
        "endMs": 1930266000000,
        "ends": "2031-03-03T01:00:00.000Z",
        "faults": [],
        "groups": [
          {
            "battery": {
              "capacityMah": 3000,
              "chargeFromMs": 0,
              "chargeMa": 0,
              "chargeUntilMs": 0,
              "gnssMa": 30,
              "searchMa": 60,
              "sleepMa": 0.05,
              "startPct": 90,
              "transmitMa": 120,
            },
            "buffer": {
              "batchOf": 20,
              "flush": "oldest-first",
              "holds": 2000,
              "survivesPowerLoss": true,
              "whenFull": "drop-oldest",
            },
            "count": 2,
            "gnss": {
              "correlationS": 60,
              "drmsM": 5,
              "withoutFix": "nothing",
            },
            "labels": [
              "{group} {n}",
            ],
            "lifecycle": {
              "claimAfterMs": 120000,
              "clockSurvives": false,
              "failedWrites": 0,
              "from": "claimed",
              "unsetClockMs": 315964800000,
              "wrongPins": 0,
            },
            "motion": {
              "altM": 2,
              "kind": "parked",
              "latDeg": -38.428958,
              "lonDeg": -14.126328,
            },
            "mqtt": {
              "inFlight": 8,
              "keepAliveS": 60,
              "payload": "plain",
              "qos": 1,
              "readingsTopic": "tarn/{id}/readings",
              "session": "persistent",
              "status": true,
              "statusTopic": "tarn/{id}/status",
            },
            "name": "crates",
            "radio": {
              "backOffFirstMs": 5000,
              "backOffLastMs": 120000,
              "image": "lte-m",
              "lossLooksLike": "half-open",
              "outages": null,
              "sim": "lte-m",
            },
            "report": {
              "afterReboot": "starts-again",
              "everyMs": 60000,
              "firstSeq": 0,
              "spreadMs": 10000,
            },
            "sensors": {
              "accel": {
                "bias": 0,
                "driftPerDay": 0,
                "noise": 0.05,
                "walkPerSqrtDay": 0,
              },
              "airTemp": {
                "bias": 0,
                "driftPerDay": 0,
                "noise": 0.1,
                "walkPerSqrtDay": 0,
              },
              "enclosureLagS": 600,
              "humidity": {
                "bias": 0,
                "driftPerDay": 0,
                "noise": 0.5,
                "walkPerSqrtDay": 0,
              },
              "pressure": {
                "bias": 0,
                "driftPerDay": 0,
                "noise": 10,
                "walkPerSqrtDay": 0,
              },
              "shocksPerHour": 2,
            },
            "sky": "open",
          },
        ],
        "lasts": "1h",
        "place": "The Tarn Isles",
        "seed": "1",
        "shows": "",
        "startMs": 1930262400000,
        "starts": "2031-03-03T00:00:00.000Z",
        "title": "smallest",
        "weather": {
          "dailySwingC": 4,
          "humidityPct": 75,
          "meanTempC": 12,
          "seaLevelPressurePa": 101325,
        },
      }
    `);
  });

  it('takes the seed from outside before the one in the file', () => {
    const seeded = `${SMALLEST}seed: 7\n`;
    expect(parseScenario(SMALLEST, 's.yaml').seed).toBe('1');
    expect(parseScenario(seeded, 's.yaml').seed).toBe('7');
    expect(parseScenario(seeded, 's.yaml', { seed: 'other' }).seed).toBe('other');
  });

  it('turns selectors into tracker numbers, and offsets into times', () => {
    const { faults, startMs, endMs } = parseScenario(
      `${SMALLEST}  - { name: trikes, count: 3, motion: { kind: route, along: coast-road } }
faults:
  - { kind: power-cut }
  - { kind: power-cut, on: trikes, from: 10min }
  - { kind: power-cut, on: 'trikes#3', from: 10min, until: 20min }
  - { kind: clock-jump, on: [crates, 'trikes#1', 'crates#2'], by: -1h30min }
`,
      's.yaml',
    );
    expect(faults.map(({ trackers }) => [...trackers])).toEqual([[0, 1, 2, 3, 4], [2, 3, 4], [4], [0, 1, 2]]);
    expect(faults.map(({ fromMs, untilMs }) => [fromMs - startMs, untilMs - startMs])).toEqual([
      [0, endMs - startMs],
      [600_000, endMs - startMs],
      [600_000, 1_200_000],
      [0, endMs - startMs],
    ]);
    expect(faults[3]).toMatchObject({ byMs: -5_400_000 });
  });

  it('keeps longitudes in [-180, 180)', () => {
    const text = SMALLEST.replace('at: ostrel-quay', 'at: [180, -12, 3]');
    const motion = parseScenario(text, 's.yaml').groups[0]?.motion;
    expect(motion).toEqual({ kind: 'parked', lonDeg: -180, latDeg: -12, altM: 3 });
  });

  it('shortens the spread and lengthens the last wait where a file leaves them out', () => {
    const text = SMALLEST.replace('} }', '}, report: { every: 5s }, radio: { backOffFirst: 5min } }');
    const group = parseScenario(text, 's.yaml').groups[0];
    expect([group?.report.spreadMs, group?.radio.backOffLastMs]).toEqual([5000, 300_000]);
  });

  it('reads a place beside the scenario file', () => {
    const file = new URL('mine.yaml', FOLDER).pathname;
    expect(parseScenario(`${SMALLEST}place: place/tarn-isles.geojson\n`, file).place.points.size).toBe(
      parseScenario(SMALLEST, file).place.points.size,
    );
  });
});

interface Schema {
  readonly $ref?: string;
  readonly default?: unknown;
  readonly properties?: Readonly<Record<string, Schema>>;
  readonly $defs: Readonly<Record<string, Schema>>;
}

describe('the schema', () => {
  const schema = JSON.parse(
    readFileSync(new URL('../../sim/scenario/scenario.schema.json', import.meta.url), 'utf8'),
  ) as Schema;
  const defaultsOf = (name: string): Readonly<Record<string, unknown>> =>
    Object.fromEntries(
      Object.entries(schema.$defs[name]?.properties ?? {}).flatMap(([key, property]) => {
        if (property.default !== undefined) return [[key, property.default]];
        const inner = property.$ref?.split('/').at(-1) ?? '';
        const below = key === 'outages' ? {} : defaultsOf(inner);
        return Object.keys(below).length > 0 ? [[key, below]] : [];
      }),
    );

  it('tells the defaults that are filled in: writing them all out changes nothing', () => {
    const top = Object.fromEntries(
      Object.entries(schema.properties ?? {}).flatMap(([key, value]) =>
        value.default === undefined ? [] : [[key, value.default]],
      ),
    );
    const motions = [
      { kind: 'route', along: 'ferry' },
      { kind: 'roam', within: 'moor' },
    ];
    const faults = [
      'no-coverage',
      'clock-jump',
      'repeat-send',
      'link-drop',
      'sensor-stuck',
      'sensor-spikes',
      'sky',
    ].map((kind) => ({
      kind,
      ...(kind.startsWith('sensor') ? { sensor: 'accel' } : {}),
      ...(kind === 'clock-jump' ? { by: '1h' } : {}),
      ...(kind === 'sensor-spikes' ? { by: 1 } : {}),
      ...(kind === 'sky' ? { sky: 'street' } : {}),
    }));
    const branch: Readonly<Record<string, string>> = {
      'no-coverage': 'plainFault',
      'clock-jump': 'clockJump',
      'repeat-send': 'repeatSend',
      'link-drop': 'linkDrop',
      'sensor-stuck': 'sensorFault',
      'sensor-spikes': 'sensorSpikes',
      sky: 'skyFault',
    };
    const build = (full: boolean) =>
      JSON.stringify({
        wayproof: 'scenario/1',
        title: 't',
        lasts: '2h',
        ...(full ? { ...top, weather: defaultsOf('weather') } : {}),
        fleet: motions.map((motion, i) => ({
          ...(full ? defaultsOf('group') : {}),
          name: `g${i}`,
          count: 2,
          motion: { ...(full ? defaultsOf(motion.kind) : {}), ...motion },
        })),
        faults: faults.map((fault) => ({ ...(full ? defaultsOf(branch[fault.kind] ?? '') : {}), ...fault })),
      });
    expect(Object.keys(defaultsOf('group')).toSorted()).toEqual(
      [
        'battery',
        'buffer',
        'gnss',
        'labels',
        'lifecycle',
        'mqtt',
        'radio',
        'report',
        'sensors',
        'sky',
      ].toSorted(),
    );
    expect(resolvedText(parseScenario(build(true), 'a'))).toBe(
      resolvedText(parseScenario(build(false), 'a')),
    );
    const outages = (text: object) =>
      parseScenario(SMALLEST.replace('} }', `}, radio: { outages: ${JSON.stringify(text)} } }`), 'a')
        .groups[0]?.radio.outages;
    expect(outages(defaultsOf('outages'))).toEqual(outages({}));
    expect(outages({})).not.toBeNull();
  });

  it.each(GENERATED)('$types is what $schema makes', async ({ schema: from, types }) => {
    const current = readFileSync(new URL(`../../${types}`, import.meta.url), 'utf8');
    expect(current, 'run `npm run types`').toBe(await typesOf(from));
  });

  it('describes every key', () => {
    const bare = Object.entries({ '': schema, ...schema.$defs }).flatMap(([name, part]) =>
      Object.entries(part.properties ?? {}).flatMap(([key, property]) => {
        const described = { ...schema.$defs[property.$ref?.split('/').at(-1) ?? ''], ...property };
        return 'description' in described || key === 'kind' ? [] : [`${name}/${key}`];
      }),
    );
    expect(bare).toEqual([]);
  });
});
