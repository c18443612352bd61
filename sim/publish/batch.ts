// What a client writes in one turn of the event loop goes out in one system call.
// Packets are encoded straight into a slab, and slabs are used again, so a message costs no allocation.
import type { Socket } from 'node:net';

const SLAB_BYTES = 16 * 1024;
const MAX_FREE = 512;
const free: Slab[] = [];

class Slab {
  readonly bytes = Buffer.allocUnsafeSlow(SLAB_BYTES);
  /** Given to `write` as its callback: the socket is done with the bytes. */
  readonly release = (): void => {
    if (free.length < MAX_FREE) free.push(this);
  };
}

const dirty: Batch[] = [];

function flushAll(): void {
  for (let k = 0; k < dirty.length; k++) dirty[k]?.flush();
  dirty.length = 0;
}

/** Bytes on their way to one socket. */
export class Batch {
  readonly #socket: Socket;
  #slab: Slab | undefined;
  #used = 0;
  #listed = false;

  constructor(socket: Socket) {
    this.#socket = socket;
  }

  /** Where the next bytes go, after `reserve` made room for them. */
  get bytes(): Buffer {
    if (!this.#slab) throw new Error('reserve first');
    return this.#slab.bytes;
  }

  get used(): number {
    return this.#used;
  }

  /** Room for `size` bytes in one piece; false when they don't fit a slab, and must be written with `writeLarge`. */
  reserve(size: number): boolean {
    if (size > SLAB_BYTES) return false;
    if (this.#slab && this.#used + size > SLAB_BYTES) this.flush();
    this.#slab ??= free.pop() ?? new Slab();
    return true;
  }

  /** The bytes up to `end` are written; they leave at the end of this turn. */
  commit(end: number): void {
    this.#used = end;
    if (this.#listed) return;
    this.#listed = true;
    if (dirty.length === 0) queueMicrotask(flushAll);
    dirty.push(this);
  }

  /** Bytes in a buffer of their own, which the batch keeps. */
  writeLarge(bytes: Buffer): void {
    this.flush();
    this.#socket.write(bytes);
  }

  flush(): void {
    this.#listed = false;
    const slab = this.#slab;
    if (!slab || this.#used === 0) return;
    const used = this.#used;
    this.#slab = undefined;
    this.#used = 0;
    if (this.#socket.writable) this.#socket.write(slab.bytes.subarray(0, used), slab.release);
    else slab.release();
  }
}
