// From the bytes of one record to its cells.
import { type Buffer, isUtf8 } from 'node:buffer';

const QUOTED = 1;
const DOUBLED = 2;
const HIGH = 4;

/** Where each cell of the current record lies in the buffer. Reused from record to record. */
export class CellTable {
  count = 0;
  /** Whether any cell of the record is quoted, or holds a byte ≥ 0x80. */
  anyQuoted = false;
  anyHigh = false;
  #from = new Int32Array(64);
  #to = new Int32Array(64);
  /** Position of the closing quote, for quoted cells. */
  #close = new Int32Array(64);
  #flags = new Uint8Array(64);

  clear(): void {
    this.count = 0;
    this.anyQuoted = false;
    this.anyHigh = false;
  }

  /** Starts a cell at `from`: its first byte, or the byte after its opening quote. */
  open(from: number, quoted: boolean): void {
    if (this.count === this.#from.length) this.#grow();
    this.#from[this.count] = from;
    this.#flags[this.count] = quoted ? QUOTED : 0;
    this.#close[this.count] = -1;
    if (quoted) this.anyQuoted = true;
  }

  noteDoubled(): void {
    this.#flags[this.count] = (this.#flags[this.count] ?? 0) | DOUBLED;
  }

  /** The open cell holds a byte ≥ 0x80. */
  noteHigh(): void {
    this.anyHigh = true;
    this.#flags[this.count] = (this.#flags[this.count] ?? 0) | HIGH;
  }

  noteClose(at: number): void {
    this.#close[this.count] = at;
  }

  /** Ends the open cell before `to`. */
  end(to: number): void {
    this.#to[this.count] = to;
    this.count += 1;
  }

  /** Moves all positions when the buffer's front is cut off; `count` may have an open cell. */
  shift(by: number): void {
    for (let i = 0; i <= this.count && i < this.#from.length; i += 1) {
      this.#from[i] = (this.#from[i] ?? 0) - by;
      this.#to[i] = (this.#to[i] ?? 0) - by;
      if ((this.#close[i] ?? -1) >= 0) this.#close[i] = (this.#close[i] ?? 0) - by;
    }
  }

  /**
   * The cells' text. The record is decoded once, a character a byte, and cut; only cells that hold a byte
   * ≥ 0x80 are decoded as UTF-8.
   */
  texts(buf: Buffer): string[] {
    const count = this.count;
    const base = this.#from[0] ?? 0;
    const record = buf.toString('latin1', base, this.#to[count - 1]);
    const cells = new Array<string>(count);
    for (let i = 0; i < count; i += 1) {
      const from = this.#from[i] ?? 0;
      const to = this.#to[i] ?? 0;
      const flags = this.#flags[i] ?? 0;
      if ((flags & QUOTED) !== 0) {
        cells[i] = this.#quotedText(buf, i, record.slice(from - base, to - base));
      } else {
        cells[i] =
          (flags & HIGH) === 0 ? record.slice(from - base, to - base) : buf.toString('utf8', from, to);
      }
    }
    return cells;
  }

  /** Text of the quoted cell i, whose bytes after the opening quote are `latin1`. */
  #quotedText(buf: Buffer, i: number, latin1: string): string {
    const from = this.#from[i] ?? 0;
    const to = this.#to[i] ?? 0;
    const flags = this.#flags[i] ?? 0;
    const high = (flags & HIGH) !== 0;
    // No closing quote: the file ended inside the cell.
    const close = (this.#close[i] ?? -1) < 0 ? to : (this.#close[i] ?? to);
    let text = high ? buf.toString('utf8', from, close) : latin1.slice(0, close - from);
    if ((flags & DOUBLED) !== 0) text = text.replaceAll('""', '"');
    if (close + 1 >= to) return text;
    // Text after the closing quote is kept as it stands: nothing that was in the file is lost.
    return text + (high ? buf.toString('utf8', close + 1, to) : latin1.slice(close + 1 - from));
  }

  /** Which cells were quoted, or undefined where none was. */
  quoted(): boolean[] | undefined {
    if (!this.anyQuoted) return undefined;
    const quoted = new Array<boolean>(this.count);
    for (let i = 0; i < this.count; i += 1) quoted[i] = ((this.#flags[i] ?? 0) & QUOTED) !== 0;
    return quoted;
  }

  #grow(): void {
    const bigger = (old: Int32Array): Int32Array<ArrayBuffer> => {
      const next = new Int32Array(old.length * 2);
      next.set(old);
      return next;
    };
    this.#from = bigger(this.#from);
    this.#to = bigger(this.#to);
    this.#close = bigger(this.#close);
    const flags = new Uint8Array(this.#flags.length * 2);
    flags.set(this.#flags);
    this.#flags = flags;
  }
}

/** Offset of the first byte in [from, to) that can't be part of UTF-8 text (RFC 3629 section 4), or -1. */
export function firstBadUtf8(buf: Buffer, from: number, to: number): number {
  if (isUtf8(buf.subarray(from, to))) return -1;
  let at = from;
  while (at < to) {
    const length = characterLength(buf, at, to);
    if (length === 0) return at;
    at += length;
  }
  return -1;
}

/** Bytes of the well-formed character at `at`, or 0. */
function characterLength(buf: Buffer, at: number, to: number): number {
  const lead = buf[at] ?? 0;
  if (lead < 0x80) return 1;
  const length = lead >= 0xf0 ? 4 : lead >= 0xe0 ? 3 : 2;
  if (lead < 0xc2 || lead > 0xf4 || at + length > to) return 0;
  // The second byte's range shuts out overlong forms, surrogates and what lies above U+10FFFF.
  const second = buf[at + 1] ?? 0;
  const low = lead === 0xe0 ? 0xa0 : lead === 0xf0 ? 0x90 : 0x80;
  const high = lead === 0xed ? 0x9f : lead === 0xf4 ? 0x8f : 0xbf;
  if (second < low || second > high) return 0;
  for (let i = 2; i < length; i += 1) {
    if (((buf[at + i] ?? 0) & 0xc0) !== 0x80) return 0;
  }
  return length;
}
