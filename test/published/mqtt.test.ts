// The publisher's own packet code against OASIS MQTT Version 3.1.1 (29 October 2014),
// and against mqtt-packet, a general-purpose library, on arbitrary packets.
import fc from 'fast-check';
import { generate } from 'mqtt-packet';
import { describe, expect, it } from 'vitest';
import { BadInput } from '../../sim/errors.ts';
import { PacketCap } from '../../sim/broker/packet-cap.ts';
import { filterCovers, topicMatches } from '../../sim/broker/topics.ts';
import {
  AckReader,
  connackWords,
  publishSize,
  topicBytes,
  writePublish,
  writePubrel,
} from '../../sim/publish/packets.ts';
import type { Qos } from '../../sim/scenario/scenario.ts';

function publish(
  topic: string,
  payload: Uint8Array,
  qos: Qos,
  retain: boolean,
  dup: boolean,
  packetId: number,
): Buffer {
  const name = topicBytes(topic);
  const bytes = Buffer.alloc(publishSize(name, payload, qos));
  expect(writePublish(bytes, 0, name, payload, qos, retain, dup, packetId)).toBe(bytes.length);
  return bytes;
}

const hi = Buffer.from('hi');

describe('PUBLISH (3.1.1 section 3.3)', () => {
  it('to a/b with packet id 10 and payload hi, calculated by hand from 3.3', () => {
    expect(publish('a/b', hi, 1, false, false, 10).toString('hex')).toBe('32090003612f62000a6869');
    expect(publish('a/b', hi, 1, false, true, 10)[0]).toBe(0x3a);
  });

  it.each([
    [0, false, false, 0x30],
    [0, true, false, 0x31],
    [1, false, false, 0x32],
    [1, true, false, 0x33],
    [2, false, false, 0x34],
    [2, true, false, 0x35],
    [1, true, true, 0x3b],
    [2, false, true, 0x3c],
  ] as const)('first byte at QoS %i, retain %s, DUP %s (Figure 3.10)', (qos, retain, dup, first) => {
    expect(publish('t', hi, qos, retain, dup, 1)[0]).toBe(first);
  });

  // Table 2.4 gives the ends of each size.
  it.each([
    [127, '7f'],
    [128, '8001'],
    [321, 'c102'],
    [16_383, 'ff7f'],
    [16_384, '808001'],
    [2_097_151, 'ffff7f'],
    [2_097_152, '80808001'],
  ])('remaining length %i as in Table 2.4', (remaining, hex) => {
    // Topic `t` takes 3 bytes at QoS 0.
    const bytes = publish('t', Buffer.alloc(remaining - 3), 0, false, false, 0);
    expect(bytes.subarray(1, 1 + hex.length / 2).toString('hex')).toBe(hex);
    expect(bytes.length).toBe(1 + hex.length / 2 + remaining);
  });

  it('refuses what a remaining length can’t say: above 268,435,455', () => {
    const fits = { length: 268_435_455 - 3 } as Uint8Array;
    const large = { length: 268_435_455 - 2 } as Uint8Array;
    expect(publishSize(topicBytes('t'), fits, 0)).toBe(268_435_460);
    expect(() => publishSize(topicBytes('t'), large, 0)).toThrow(BadInput);
  });

  it('is byte for byte what mqtt-packet writes', () => {
    const name = fc
      .string({ unit: 'grapheme', minLength: 1, maxLength: 40 })
      .filter((text) => !/[+#\0]/.test(text));
    fc.assert(
      fc.property(
        name,
        fc.uint8Array({ maxLength: 400 }),
        fc.constantFrom<Qos>(0, 1, 2),
        fc.boolean(),
        fc.boolean(),
        fc.integer({ min: 1, max: 65_535 }),
        (topic, payload, qos, retain, repeated, messageId) => {
          const dup = repeated && qos > 0;
          const theirs = generate({
            cmd: 'publish',
            topic,
            payload: Buffer.from(payload),
            qos,
            retain,
            dup,
            messageId,
          });
          expect(publish(topic, payload, qos, retain, dup, messageId)).toEqual(theirs);
        },
      ),
      { seed: 41 },
    );
  });
});

describe('PUBREL (3.6)', () => {
  it('is what mqtt-packet writes, with the reserved flags 0010', () => {
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 65_535 }), (messageId) => {
        const bytes = Buffer.alloc(4);
        expect(writePubrel(bytes, 0, messageId)).toBe(4);
        expect(bytes).toEqual(generate({ cmd: 'pubrel', messageId }));
      }),
      { seed: 42 },
    );
  });
});

describe('topic names (4.7, 1.5.3)', () => {
  it.each(['a/+', 'a/#', '#', '', 'a\0b', 'a\ud800b', 'x'.repeat(65_536)])('refuses %j', (topic) => {
    expect(() => topicBytes(topic)).toThrow(BadInput);
  });

  it('takes 65,535 bytes, one character, and U+FEFF unstripped', () => {
    expect(topicBytes('x'.repeat(65_535)).length).toBe(65_535);
    expect(topicBytes('/').length).toBe(1);
    expect(topicBytes('\ufeffa').toString('hex')).toBe('efbbbf61');
    // No normalisation [MQTT-4.7.3-4].
    expect(topicBytes('\u00e9')).not.toEqual(topicBytes('e\u0301'));
  });
});

describe('topic filters, the examples of 4.7.1 and 4.7.2', () => {
  it.each([
    ['sport/tennis/player1/#', 'sport/tennis/player1', true],
    ['sport/tennis/player1/#', 'sport/tennis/player1/ranking', true],
    ['sport/tennis/player1/#', 'sport/tennis/player1/score/wimbledon', true],
    ['sport/#', 'sport', true],
    ['sport/tennis/+', 'sport/tennis/player1', true],
    ['sport/tennis/+', 'sport/tennis/player1/ranking', false],
    ['sport/+', 'sport', false],
    ['sport/+', 'sport/', true],
    ['+/+', '/finance', true],
    ['/+', '/finance', true],
    ['+', '/finance', false],
    ['#', '$SYS/uptime', false],
    ['+/monitor/Clients', '$SYS/monitor/Clients', false],
    ['$SYS/#', '$SYS/uptime', true],
    ['$SYS/monitor/+', '$SYS/monitor/Clients', true],
    ['accounts', 'ACCOUNTS', false],
  ])('%s and %s: %s', (filter, topic, matches) => {
    expect(topicMatches(filter, topic)).toBe(matches);
  });

  it('a granted filter covers exactly the filters that can match nothing else', () => {
    const level = fc.constantFrom('a', 'b', '+');
    const filter = fc
      .tuple(fc.array(level, { minLength: 1, maxLength: 3 }), fc.boolean())
      .map(([levels, open]) => (open ? [...levels, '#'] : levels).join('/'));
    // Topics one level deeper than any filter, so that every difference shows.
    const deeper = (prefix: string): string[] =>
      prefix.split('/').length === 5
        ? [prefix]
        : [prefix, ...['a', 'b', 'c'].flatMap((next) => deeper(`${prefix}/${next}`))];
    const topics = ['a', 'b', 'c'].flatMap(deeper);
    fc.assert(
      fc.property(filter, filter, (granted, asked) => {
        const all = topics.every((topic) => !topicMatches(asked, topic) || topicMatches(granted, topic));
        expect(filterCovers(granted, asked)).toBe(all);
      }),
      { seed: 43 },
    );
  });
});

describe('AckReader', () => {
  it('reads acknowledgements in chunks of any size, and passes over what wasn’t asked for', () => {
    const packet = fc.oneof(
      fc
        .tuple(fc.constantFrom('puback', 'pubrec', 'pubcomp'), fc.integer({ min: 1, max: 65_535 }))
        .map(([cmd, id]) => ({
          bytes: generate({ cmd: cmd as 'puback', messageId: id }),
          heard: `${cmd} ${id}`,
        })),
      fc.constant({ bytes: generate({ cmd: 'pingresp' }), heard: 'pingresp' }),
      fc.tuple(fc.boolean(), fc.nat({ max: 5 })).map(([sessionPresent, returnCode]) => ({
        bytes: generate({ cmd: 'connack', sessionPresent, returnCode }),
        heard: `connack ${sessionPresent} ${returnCode}`,
      })),
      fc.uint8Array({ maxLength: 300 }).map((payload) => ({
        bytes: generate({
          cmd: 'publish',
          topic: 't',
          payload: Buffer.from(payload),
          qos: 0,
          dup: false,
          retain: false,
        }),
        heard: '',
      })),
    );
    const names: Readonly<Record<number, string>> = { 0x40: 'puback', 0x50: 'pubrec', 0x70: 'pubcomp' };
    fc.assert(
      fc.property(
        fc.array(packet),
        fc.array(fc.integer({ min: 1, max: 9 }), { minLength: 1 }),
        (packets, sizes) => {
          const heard: string[] = [];
          const reader = new AckReader();
          const sink = {
            connack: (present: boolean, code: number) => heard.push(`connack ${present} ${code}`),
            ack: (type: number, id: number) => heard.push(`${names[type]} ${id}`),
            pingResponse: () => heard.push('pingresp'),
          };
          const bytes = Buffer.concat(packets.map((each) => each.bytes));
          for (let at = 0, k = 0; at < bytes.length; k++) {
            const size = sizes[k % sizes.length] ?? 1;
            const chunk = bytes.subarray(at, at + size);
            expect(reader.read(chunk, chunk.length, sink)).toBe(true);
            at += size;
          }
          expect(heard).toEqual(packets.map((each) => each.heard).filter((text) => text !== ''));
        },
      ),
      { seed: 44 },
    );
  });

  it.each(['4003', 'ffffffffff', '0002'])('calls %s not MQTT', (hex) => {
    const sink = { connack: () => {}, ack: () => {}, pingResponse: () => {} };
    const bytes = Buffer.from(hex, 'hex');
    expect(new AckReader().read(bytes, bytes.length, sink)).toBe(false);
  });
});

describe('PacketCap', () => {
  it('accepts a packet of the size and refuses one of a byte more, in chunks of any size', () => {
    fc.assert(
      fc.property(
        fc.array(fc.integer({ min: 2, max: 400 }), { minLength: 1 }),
        fc.integer({ min: 1, max: 64 }),
        fc.integer({ min: 100, max: 300 }),
        (sizes, chunkSize, cap) => {
          const packets = sizes.map((size) => publish('t', Buffer.alloc(size), 0, false, false, 0));
          const bytes = Buffer.concat(packets);
          const guard = new PacketCap(cap);
          let accepted = true;
          for (let at = 0; at < bytes.length; at += chunkSize) {
            accepted &&= guard.accepts(bytes.subarray(at, at + chunkSize));
          }
          expect(accepted).toBe(packets.every((packet) => packet.length <= cap));
        },
      ),
      { seed: 45 },
    );
  });
});

describe('CONNACK in words (Table 3.1)', () => {
  it('names every code', () => {
    expect([0, 1, 2, 3, 4, 5].map(connackWords)).toEqual([
      'accepted',
      'unacceptable protocol version',
      'client identifier rejected',
      'server unavailable',
      'bad user name or password',
      'not authorised',
    ]);
  });
});
