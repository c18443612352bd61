// The few MQTT 3.1.1 packets of which a tracker sends or gets very many, written and read on bytes.
// CONNECT, which is rare and has many forms, is left to mqtt-packet.
// Clause numbers are those of OASIS MQTT Version 3.1.1.
import { BadInput } from '../errors.ts';
import type { Qos } from '../scenario/scenario.ts';

export const PUBACK = 0x40;
export const PUBREC = 0x50;
export const PUBCOMP = 0x70;
const CONNACK = 0x20;
const PINGRESP = 0xd0;

/** 3.12 */
export const PINGREQ_BYTES = Buffer.from([0xc0, 0x00]);
/** 3.14 */
export const DISCONNECT_BYTES = Buffer.from([0xe0, 0x00]);
/** Bytes of a PUBREL. */
export const PUBREL_SIZE = 4;

/** 2.2.3: the most that a remaining length can say. */
export const MAX_REMAINING_LENGTH = 268_435_455;

/** CONNACK return codes in words (3.2.2.3, Table 3.1). */
const REFUSALS: readonly string[] = [
  'accepted',
  'unacceptable protocol version',
  'client identifier rejected',
  'server unavailable',
  'bad user name or password',
  'not authorised',
];

export function connackWords(code: number): string {
  return REFUSALS[code] ?? 'a return code that MQTT 3.1.1 doesn’t have';
}

/**
 * A topic name as bytes of UTF-8 (4.7.3; 1.5.3).
 * BadInput for a wildcard [MQTT-3.3.2-2], no or too many bytes [4.7.3-1, -3], U+0000 [4.7.3-2], a lone surrogate [1.5.3-1].
 */
export function topicBytes(topic: string): Buffer {
  const bytes = Buffer.from(topic, 'utf8');
  const wrong =
    topic === ''
      ? 'nothing'
      : bytes.length > 65_535
        ? `${bytes.length} bytes`
        : /[+#]/.test(topic)
          ? 'a wildcard'
          : topic.includes('\0')
            ? 'U+0000'
            : /\p{Surrogate}/u.test(topic)
              ? 'a lone surrogate'
              : undefined;
  if (wrong !== undefined) {
    const shown = JSON.stringify(topic.slice(0, 60));
    throw new BadInput(
      `topic ${shown}: expected 1 to 65535 bytes of text without + # or U+0000, found ${wrong}. Mend: change the topic.`,
    );
  }
  return bytes;
}

/** Bytes that a remaining length takes (2.2.3, Table 2.4). */
function lengthSize(remaining: number): number {
  return remaining < 128 ? 1 : remaining < 16_384 ? 2 : remaining < 2_097_152 ? 3 : 4;
}

function remainingOf(topic: Uint8Array, payload: Uint8Array, qos: Qos): number {
  return 2 + topic.length + (qos > 0 ? 2 : 0) + payload.length;
}

/** Bytes of the whole PUBLISH. BadInput for one that MQTT can't carry. */
export function publishSize(topic: Uint8Array, payload: Uint8Array, qos: Qos): number {
  const remaining = remainingOf(topic, payload, qos);
  if (remaining > MAX_REMAINING_LENGTH) {
    throw new BadInput(
      `payload: expected at most ${MAX_REMAINING_LENGTH} bytes with its topic, found ${remaining}. Mend: batch fewer readings.`,
    );
  }
  return 1 + lengthSize(remaining) + remaining;
}

/** Writes a PUBLISH (3.3) at `at`, where `publishSize` bytes are free, and returns where it ends. */
export function writePublish(
  into: Uint8Array,
  at: number,
  topic: Uint8Array,
  payload: Uint8Array,
  qos: Qos,
  retain: boolean,
  dup: boolean,
  packetId: number,
): number {
  let end = at;
  into[end++] = 0x30 | (dup ? 0x08 : 0) | (qos << 1) | (retain ? 1 : 0);
  let remaining = remainingOf(topic, payload, qos);
  while (remaining > 127) {
    into[end++] = (remaining & 0x7f) | 0x80;
    remaining >>>= 7;
  }
  into[end++] = remaining;
  into[end++] = topic.length >>> 8;
  into[end++] = topic.length & 0xff;
  into.set(topic, end);
  end += topic.length;
  if (qos > 0) {
    into[end++] = packetId >>> 8;
    into[end++] = packetId & 0xff;
  }
  into.set(payload, end);
  return end + payload.length;
}

/** Writes a PUBREL (3.6; the reserved flags are 0010 [MQTT-3.6.1-1]). */
export function writePubrel(into: Uint8Array, at: number, packetId: number): number {
  into[at] = 0x62;
  into[at + 1] = 2;
  into[at + 2] = packetId >>> 8;
  into[at + 3] = packetId & 0xff;
  return at + PUBREL_SIZE;
}

/** What a publisher hears from a broker. */
export interface AckSink {
  connack(sessionPresent: boolean, code: number): void;
  /** `type` is PUBACK, PUBREC or PUBCOMP. */
  ack(type: number, packetId: number): void;
  pingResponse(): void;
}

/** Reads a broker's bytes in chunks of any size. Packets that a publisher never asked for are passed over. */
export class AckReader {
  readonly #head = new Uint8Array(5);
  #headSize = 0;
  /** Bytes of a packet to pass over that are still to come. */
  #skip = 0;

  /** False when the bytes aren't MQTT: the connection must be closed [MQTT-4.8.0-1]. */
  read(chunk: Uint8Array, size: number, sink: AckSink): boolean {
    let at = 0;
    while (at < size) {
      if (this.#skip > 0) {
        const passed = Math.min(this.#skip, size - at);
        this.#skip -= passed;
        at += passed;
        continue;
      }
      // The usual case: a whole four-byte acknowledgement, and nothing left from the chunk before.
      if (this.#headSize === 0 && size - at >= 4 && chunk[at + 1] === 2) {
        const type = chunk[at] as number;
        if (type === PUBACK || type === PUBREC || type === PUBCOMP) {
          sink.ack(type, ((chunk[at + 2] as number) << 8) | (chunk[at + 3] as number));
          at += 4;
          continue;
        }
      }
      this.#head[this.#headSize++] = chunk[at++] as number;
      if (!this.#header(sink)) return false;
    }
    return true;
  }

  #header(sink: AckSink): boolean {
    const [type = 0, second = 0, third = 0, fourth = 0] = this.#head;
    const size = this.#headSize;
    if (size === 1) return type >= 0x20;
    if (type === PINGRESP && second === 0) {
      this.#headSize = 0;
      sink.pingResponse();
      return true;
    }
    if (type === CONNACK || type === PUBACK || type === PUBREC || type === PUBCOMP) {
      if (second !== 2) return false;
      if (size < 4) return true;
      this.#headSize = 0;
      if (type === CONNACK) sink.connack((third & 1) === 1, fourth);
      else sink.ack(type, (third << 8) | fourth);
      return true;
    }
    // Any other packet: read its remaining length, then pass over it.
    if (((this.#head[size - 1] as number) & 0x80) !== 0) return size < 5;
    let remaining = 0;
    for (let k = size - 1; k >= 1; k--) remaining = remaining * 128 + ((this.#head[k] as number) & 0x7f);
    this.#skip = remaining;
    this.#headSize = 0;
    return true;
  }
}
