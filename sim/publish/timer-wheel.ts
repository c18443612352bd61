// One timer for the keep alive of all clients: ten thousand trackers make no ten thousand timers.

/** Length of a tick. A keep alive of 1 s, the shortest, is still kept within half a second. */
export const TICK_MS = 250;
const SLOTS = 512;

/** Something that wants to be called at a tick. */
export interface Beat {
  /** The tick it waits for; 0 = none. Belongs to the wheel. */
  dueTick: number;
  beat(): void;
}

export class TimerWheel {
  readonly #slots: Beat[][] = Array.from({ length: SLOTS }, () => []);
  #tick = 1;
  #listed = 0;
  #timer: NodeJS.Timeout | undefined;

  /** The present tick, counted from 1. */
  get tick(): number {
    return this.#tick;
  }

  /** Calls `item.beat` once, `ticks` (≥ 1) from now. An earlier wish of the same item is dropped. */
  schedule(item: Beat, ticks: number): void {
    item.dueTick = this.#tick + Math.max(1, ticks);
    this.#slots[item.dueTick % SLOTS]?.push(item);
    this.#listed += 1;
    // Sockets keep the process alive; the wheel alone shouldn't.
    this.#timer ??= setInterval(() => this.advance(), TICK_MS).unref();
  }

  cancel(item: Beat): void {
    item.dueTick = 0;
  }

  /** One tick on. The shared wheel's own timer calls this. */
  advance(): void {
    this.#tick += 1;
    const slot = this.#tick % SLOTS;
    const items = this.#slots[slot] ?? [];
    this.#slots[slot] = [];
    this.#listed -= items.length;
    for (const item of items) {
      if (item.dueTick === this.#tick) {
        item.dueTick = 0;
        item.beat();
      } else if (item.dueTick > this.#tick && item.dueTick % SLOTS === slot) {
        // A later turn of the wheel.
        this.#slots[slot].push(item);
        this.#listed += 1;
      }
    }
    if (this.#listed === 0 && this.#timer) {
      clearInterval(this.#timer);
      this.#timer = undefined;
    }
  }
}

export const sharedWheel = new TimerWheel();
