// What a tracker's client is given, and what it tells.
import type { Qos } from '../scenario/scenario.ts';

export interface Will {
  readonly topic: string;
  readonly payload: Uint8Array;
  readonly qos: Qos;
  readonly retain: boolean;
}

export interface TrackerClientOptions {
  readonly host: string;
  readonly port: number;
  readonly clientId: string;
  readonly username?: string;
  readonly password?: string;
  /** 0 = no keep alive. */
  readonly keepAliveS: number;
  readonly cleanSession: boolean;
  /** Most unacknowledged messages of QoS 1 and 2 at a time: the window. */
  readonly inFlight: number;
  readonly will?: Will;
  /** Wait before the first reconnect; doubled up to the last. */
  readonly backOffFirstMs: number;
  readonly backOffLastMs: number;
  /** From the start of a connection to its CONNACK. */
  readonly connectTimeoutMs: number;
  /** Own address; a further one gives another 28,000 ports or so. */
  readonly localAddress?: string;
}

/** What a client tells its owner. `n` and `intendedMs` are as given to `publish`. */
export interface TrackerClientListener {
  connected(sessionPresent: boolean): void;
  /** The link is gone without the owner's wish; the client waits, then connects again. */
  lost(why: string): void;
  /** The broker answered CONNECT with this code, and the client doesn't come again by itself. Not told of 3: that is `lost`. */
  turnedAway(code: number): void;
  acked(n: number, intendedMs: number): void;
  /** Sent once more: on a new connection, with DUP when the session went on. */
  sentAgain(n: number): void;
  /** The broker closed the connection each time this message alone was outstanding. It's given up. */
  refused(n: number): void;
  /** `publish`, which returned false, may be tried again: half of the window is free. */
  room(): void;
}

/** `silent` = half open: the broker isn't told, and nothing is heard. */
export type LinkState = 'idle' | 'connecting' | 'connected' | 'waiting' | 'silent' | 'closed';
