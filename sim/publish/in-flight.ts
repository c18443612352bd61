// The messages that one client has sent and the broker hasn't acknowledged to the end, and their packet ids.
import type { Qos } from '../scenario/scenario.ts';

export interface Flight {
  /** Number of the emission. */
  readonly n: number;
  readonly topic: Uint8Array;
  readonly payload: Uint8Array;
  readonly qos: Exclude<Qos, 0>;
  readonly retain: boolean;
  readonly intendedMs: number;
  packetId: number;
  /** QoS 2: PUBREC came, so PUBREL is what is sent from now on. */
  released: boolean;
}

export const MAX_PACKET_ID = 65_535;

export class InFlight {
  // A Map keeps the order of sending, which is the order of sending again [MQTT-4.6.0-1].
  readonly #byId = new Map<number, Flight>();
  #nextId = 1;

  get size(): number {
    return this.#byId.size;
  }

  get(packetId: number): Flight | undefined {
    return this.#byId.get(packetId);
  }

  /** Gives the flight a packet id that is non-zero and not in use [MQTT-2.3.1-1, -2], and keeps it. */
  add(flight: Flight): void {
    if (this.#byId.size >= MAX_PACKET_ID) throw new RangeError('every packet id is in use');
    while (this.#byId.has(this.#nextId)) this.#nextId = after(this.#nextId);
    flight.packetId = this.#nextId;
    this.#nextId = after(this.#nextId);
    this.#byId.set(flight.packetId, flight);
  }

  delete(packetId: number): void {
    this.#byId.delete(packetId);
  }

  /** Takes the oldest out. */
  shift(): Flight | undefined {
    for (const flight of this.#byId.values()) {
      this.#byId.delete(flight.packetId);
      return flight;
    }
    return undefined;
  }

  /** All become new messages, with new packet ids, in the same order. */
  renumber(): void {
    const flights = [...this.#byId.values()];
    this.#byId.clear();
    for (const flight of flights) {
      flight.released = false;
      this.add(flight);
    }
  }

  /** In order of sending. */
  [Symbol.iterator](): Iterator<Flight> {
    return this.#byId.values();
  }
}

function after(packetId: number): number {
  return packetId === MAX_PACKET_ID ? 1 : packetId + 1;
}
