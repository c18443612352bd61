import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { parseScenario } from '../../sim/scenario/read-scenario.ts';
import { linesOf, linesOrNone } from '../support/bad-input.ts';

const HEAD = 'wayproof: scenario/1\ntitle: t\nlasts: 4h\n';
const CRATES = '  - name: crates\n    count: 2\n    motion: { kind: parked, at: ostrel-quay }\n';
const SOUND = `${HEAD}fleet:\n${CRATES}`;

const mistakes = (text: string) => linesOf(() => parseScenario(text, 's.yaml'));
/** The lines told when `more` stands in the group. */
const inGroup = (more: string) => mistakes(`${SOUND}    ${more}\n`);
const inFaults = (fault: string) => mistakes(`${SOUND}faults:\n  - { ${fault} }\n`);

describe('mistakes in a scenario', () => {
  it('the sound text is sound', () => {
    expect(parseScenario(SOUND, 's.yaml').groups).toHaveLength(1);
  });

  it('tells all at once, in the order of the file', () => {
    const text = `wayproof: scenario/1
title: 7
lasts: 24
plaec: tarn-isles
fleet:
  - name: crates
    count: 0
    motion: { kind: parked, at: [14, 91] }
  - name: trikes
    count: 2
    motion: { kind: route, along: coast-raod, then: turn-bakc }
  - name: boats
    count: 2
    motion: { kind: parked, at: [14, 91] }
faults:
  - { kind: power-cut, on: triks }
`;
    expect(mistakes(text)).toMatchInlineSnapshot(`
      [
        "s.yaml:2:8: /title: expected text, found the number 7. Mend: put it in quotes.",
        "s.yaml:3:8: /lasts: expected a duration such as 90s, 1h30min or 2d (units d, h, min, s, ms), found the number 24. Mend: write it in this form, with its unit.",
        "s.yaml:4:1: /plaec: expected one of wayproof, title, shows, seed, starts, lasts, place, weather, fleet, faults, found the key "plaec". Mend: write place.",
        "s.yaml:7:12: /fleet/0/count: expected a number of at least 1, found the number 0. Mend: stay within the limit.",
        "s.yaml:11:53: /fleet/1/motion/then: expected one of turn-back, start-over, stay, found the text "turn-bakc". Mend: write turn-back.",
        "s.yaml:14:38: /fleet/2/motion/at/1: expected a latitude from -90 to 90, found the number 91. Mend: write [longitude, latitude, height].",
        "s.yaml:16:28: /faults/0/on: expected one of everyone, crates, trikes, boats, found the text "triks". Mend: write trikes.",
      ]
    `);
  });

  it.each([
    [
      'wayproof: contract/1',
      '/wayproof: expected scenario/1, found the text "contract/1". Mend: write scenario/1.',
    ],
    ['wayproof: scenario/2', '/wayproof: expected scenario/1'],
  ])('refuses %s', (head, line) => {
    expect(mistakes(SOUND.replace('wayproof: scenario/1', head))[0]).toContain(line);
  });

  it.each([
    ['', '(whole file): expected a mapping, found an empty value'],
    ['- a\n', '(whole file): expected a mapping, found a list of 1'],
    ['title: t\n', 'expected the key wayproof, found none. Mend: add wayproof.'],
    [`${HEAD}fleet: []\n`, 's.yaml:4:8: /fleet: expected a list of at least 1, found an empty list'],
    [`${SOUND}lasts: 5h\n`, 'expected each key once'],
    [`${SOUND}starts: 2023-02-29T00:00:00Z\n`, '/starts: expected a time that exists'],
    [`${SOUND}starts: 1970-01-01T00:00:00Z\n`, '/starts: expected a time that exists, from 1980-01-06'],
    [`${SOUND}starts: 9999-12-31T12:00:00Z\n`, '/starts: expected an end before'],
    [`${SOUND}starts: 2031-03-03\n`, '/starts: expected an RFC 3339 time such as'],
    [`${SOUND}seed: 12345678901234567890\n`, '/seed: expected a number of at most 9007199254740991'],
    [`${SOUND}place: tarn-isle\n`, 'Mend: write tarn-isles.'],
    [`${SOUND}place: nowhere.geojson\n`, '/place: expected a place that can be read'],
    [`${SOUND}weather: { humidityPct: 101 }\n`, '/weather/humidityPct: expected a number of at most 100'],
    [`${SOUND}weather: { meanTempC: .nan }\n`, '/weather/meanTempC: expected a number, found the number NaN'],
    [`${SOUND}weather: { meanTempC: no }\n`, '/weather/meanTempC: expected a number, found the text "no"'],
    [SOUND.replace('4h', '0s'), '/lasts: expected a duration from 1ms'],
    [SOUND.replace('4h', '401d'), '/lasts: expected a duration from 1ms to 400d'],
    [SOUND.replace('4h', '1:30'), '/lasts: expected a duration such as 90s'],
    [SOUND.replace('2\n', '0\n'), '/fleet/0/count: expected a number of at least 1, found the number 0'],
    [SOUND.replace('2\n', '2.5\n'), '/fleet/0/count: expected a whole number'],
    [SOUND.replace('ostrel-quay', 'ostrel-key'), 'Mend: write ostrel-quay.'],
    [SOUND.replace('ostrel-quay', '[14]'), '/fleet/0/motion/at: expected a list of at least 2'],
    [
      SOUND.replace('ostrel-quay', '[-181, 0]'),
      '/fleet/0/motion/at/0: expected a longitude from -180 to 180',
    ],
    [SOUND.replace('ostrel-quay', '[0, 91]'), '/fleet/0/motion/at/1: expected a latitude from -90 to 90'],
    [SOUND.replace('parked', 'praked'), '/fleet/0/motion/kind: expected one of parked, route, roam'],
    [SOUND.replace('kind: parked, ', ''), '/fleet/0/motion: expected the key kind'],
    [SOUND.replace('name: crates', 'name: everyone'), 'Mend: rename it'],
    [SOUND.replace('name: crates', 'name: Crates'), '/fleet/0/name: expected a name of small letters'],
    [SOUND + CRATES, '/fleet/1/name: expected a name of its own, found the text "crates", as at /fleet/0'],
  ])('%# is told', (text, line) => {
    expect(mistakes(text).join('\n')).toContain(line);
  });

  it('refuses more than a million trackers', () => {
    const many = CRATES.replace('count: 2', 'count: 600000');
    const text = `${HEAD}fleet:\n${many}${many.replace('name: crates', 'name: more')}faults:\n  - { kind: power-cut }\n`;
    expect(mistakes(text)).toEqual([
      's.yaml:5:3: /fleet: expected at most 1000000 trackers in all, found 1200000. Mend: lower the counts.',
    ]);
  });

  it.each([
    ['raport: {}', ':8:5: /fleet/0/raport: expected one of name, count'],
    ['raport: {}', 'Mend: write report.'],
    ['report: { every: 60 }', 'found the number 60. Mend: write it in this form, with its unit.'],
    ['report: { every: 60 s }', '/report/every: expected a duration such as'],
    ['report: { every: -60s }', '/report/every: expected a duration such as'],
    ['report: { every: 0.4ms }', '/report/every: expected a duration from 1ms'],
    ['report: { every: 60s, spread: 61s }', '/report/spread: expected a duration from 0s to 1min'],
    ['gnss: { drmsM: -1 }', '/gnss/drmsM: expected a number of at least 0, found the number -1'],
    ['battery: { startPct: 101 }', '/battery/startPct: expected a number of at most 100'],
    ['battery: { capacityMah: 0 }', '/battery/capacityMah: expected a number above 0'],
    [
      'battery: { chargeFrom: 20h, chargeUntil: 6h }',
      '/battery/chargeUntil: expected a duration from 20h to 1d',
    ],
    ['radio: { outages: { toBad: 3/2 } }', '/radio/outages/toBad: expected a ratio of at most 1'],
    ['radio: { outages: { toBad: 1/0 } }', '/radio/outages/toBad: expected a ratio of whole numbers'],
    ['radio: { outages: { toBad: 0.1 } }', '/radio/outages/toBad: expected a ratio of whole numbers'],
    ['radio: { image: lte }', '/radio/image: expected lte-m or nb-iot'],
    ['radio: { backOffFirst: 5min, backOffLast: 1min }', '/radio/backOffLast: expected a duration from 5min'],
    ['lifecycle: { from: box, wrongPins: 10 }', '/lifecycle/wrongPins: expected a number of at most 9'],
    ['lifecycle: { from: box, wrongPins: -1 }', '/lifecycle/wrongPins: expected a number of at least 0'],
    ['lifecycle: { wrongPins: 1 }', 'Mend: add from: box.'],
    [
      'lifecycle: { clockSurvives: yes }',
      '/lifecycle/clockSurvives: expected true or false, found the text "yes"',
    ],
    ['buffer: { holds: 0 }', '/buffer/holds: expected a number of at least 1'],
    ['mqtt: { qos: 3 }', '/mqtt/qos: expected one of 0, 1, 2, found the number 3'],
    ['mqtt: { keepAlive: 1500ms }', '/mqtt/keepAlive: expected whole seconds'],
    ['mqtt: { keepAlive: 65536s }', '/mqtt/keepAlive: expected a duration from 0s to'],
    ['labels: ["a\\0"]', '/labels/0: expected text without U+0000, found the text "a\\u0000"'],
    ['labels: ["\\uD800"]', '/labels/0: expected text in whole characters'],
    ['labels: [7]', '/labels/0: expected text, found the number 7. Mend: put it in quotes.'],
  ])('%s', (more, line) => {
    expect(inGroup(more).join('\n')).toContain(line);
  });

  // The clauses of MQTT 3.1.1 that stand beside the checks in topics.ts.
  it.each([
    ['tarn/+/{id}', 'a topic name without + and #'],
    ['tarn/{id}/#', 'a topic name without + and #'],
    ['$SYS/{id}', 'a topic name that does not start with $'],
    ['tarn/\\0/{id}', 'a topic name without control characters'],
    ['tarn/\\uDFFF/{id}', 'a topic name in whole characters'],
    ['tarn/{imei}/{id}', 'no placeholder but {id} and {group}'],
    ['tarn/{group}', 'a topic of its own for each tracker'],
    ['', 'text of at least 1 characters'],
  ])('topic %j', (topic, expected) => {
    expect(inGroup(`mqtt: { readingsTopic: "${topic}" }`)[0]).toContain(
      `/mqtt/readingsTopic: expected ${expected}`,
    );
  });

  it('counts the bytes of a topic, with the id in it', () => {
    for (const filling of ['x'.repeat(65_521), 'é'.repeat(32_761)]) {
      const [line] = inGroup(`mqtt: { readingsTopic: "${filling}{id}" }`);
      expect(line).toContain('/mqtt/readingsTopic: expected a topic name of at most 65535 bytes');
    }
  });

  it('takes topics that only look odd', () => {
    for (const topic of ['/', ' ', '/tarn//', 'TARN', '冷/🧊', 'x'.repeat(65_520)]) {
      const text = `${SOUND}    mqtt: { readingsTopic: "${topic}{id}" }\n`;
      expect(parseScenario(text, 's.yaml').groups[0]?.mqtt.readingsTopic).toBe(`${topic}{id}`);
    }
  });

  it('finds topics that meet', () => {
    expect(inGroup('mqtt: { statusTopic: "tarn/{id}/readings" }')[0]).toContain(
      'another topic than that of the readings',
    );
    const one = (name: string) =>
      `${CRATES.replace('crates', name).replace('count: 2', 'count: 1')}    mqtt: { readingsTopic: same, status: false }\n`;
    expect(mistakes(`${HEAD}fleet:\n${one('a')}${one('b')}`)).toHaveLength(1);
    expect(parseScenario(`${HEAD}fleet:\n${one('a')}`, 's.yaml').groups).toHaveLength(1);
  });

  it.each([
    ['kind: power-cat', '/faults/0/kind: expected one of no-coverage'],
    [
      'kind: power-cut, on: crate',
      '/faults/0/on: expected everyone or crates, found the text "crate". Mend: write crates.',
    ],
    ['kind: power-cut, on: "crates#3"', '/faults/0/on: expected crates#1 to crates#2'],
    ['kind: power-cut, on: "crates#0"', '/faults/0/on: expected crates#1 to crates#2'],
    ['kind: power-cut, on: [crates, boats]', '/faults/0/on/1: expected everyone or crates'],
    ['kind: power-cut, on: []', '/faults/0/on: expected a list of at least 1'],
    ['kind: power-cut, from: 4h', '/faults/0/from: expected an offset within the scenario, which lasts 4h'],
    ['kind: power-cut, until: 5h', '/faults/0/until: expected an offset within the scenario'],
    ['kind: power-cut, from: 2h, until: 2h', '/faults/0/until: expected an offset after from (2h)'],
    ['kind: power-cut, sky: open', '/faults/0/sky: expected one of kind, on, from, until'],
    ['kind: sky', '/faults/0: expected the key sky'],
    ['kind: clock-jump, by: 0s', '/faults/0/by: expected another value than 0'],
    ['kind: clock-jump, by: an hour', '/faults/0/by: expected a duration with a sign'],
    ['kind: sensor-spikes, sensor: accel, by: 0', '/faults/0/by: expected another value than 0'],
    ['kind: sensor-stuck, sensor: temp', '/faults/0/sensor: expected one of airTemp'],
    ['kind: link-drop, every: 0s', '/faults/0/every: expected a duration from 1ms'],
    ['kind: repeat-send, share: 2/1', '/faults/0/share: expected a ratio of at most 1'],
  ])('fault %s', (fault, line) => {
    expect(inFaults(fault).join('\n')).toContain(line);
  });

  it('never fails in another way than by BadInput, on one line each', () => {
    const anything = fc.jsonValue({ maxDepth: 3 });
    const keys = fc.constantFrom(
      'wayproof',
      'title',
      'lasts',
      'fleet',
      'faults',
      'place',
      'name',
      'count',
      'motion',
      'kind',
      'on',
      'mqtt',
    );
    const words = fc.constantFrom(
      'scenario/1',
      '1h',
      'parked',
      'power-cut',
      'everyone',
      'a',
      'tarn-isles',
      2,
    );
    const { tree } = fc.letrec((tie) => ({
      tree: fc.oneof(
        { maxDepth: 5 },
        words,
        anything,
        fc.array(tie('tree'), { maxLength: 3 }),
        fc.dictionary(keys, tie('tree'), { maxKeys: 6 }),
      ),
    }));
    fc.assert(
      fc.property(tree, (value) => {
        const lines = linesOrNone(() => parseScenario(JSON.stringify(value), 's.yaml'));
        expect(lines.filter((line) => !/^s\.yaml[^\n\r]*\. Mend: [^\n\r]*\.$/.test(line))).toEqual([]);
      }),
      { seed: 11, numRuns: 500 },
    );
  });
});
