// Keeps a connection's packets below a size, before a parser gathers their bytes.

/** Follows the fixed headers of one connection's inbound bytes. */
export class PacketCap {
  readonly #maxBytes: number;
  /** Bytes of the present packet's body that are still to come. */
  #body = 0;
  /** Bytes of the present fixed header seen so far, and the remaining length read from them. */
  #header = 0;
  #remaining = 0;

  constructor(maxBytes: number) {
    this.#maxBytes = maxBytes;
  }

  /** False when a packet is larger than allowed, counted with its header, or its length isn't one. */
  accepts(chunk: Uint8Array): boolean {
    let at = 0;
    while (at < chunk.length) {
      if (this.#body > 0) {
        const passed = Math.min(this.#body, chunk.length - at);
        this.#body -= passed;
        at += passed;
        continue;
      }
      const byte = chunk[at++] as number;
      this.#header += 1;
      if (this.#header === 1) continue;
      // 2.2.3: seven bits a byte, least first, at most four bytes.
      this.#remaining += (byte & 0x7f) * 128 ** (this.#header - 2);
      if ((byte & 0x80) !== 0) {
        if (this.#header === 5) return false;
        continue;
      }
      if (this.#header + this.#remaining > this.#maxBytes) return false;
      this.#body = this.#remaining;
      this.#header = 0;
      this.#remaining = 0;
    }
    return true;
  }
}
