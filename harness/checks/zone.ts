// Wall-clock time of a named zone, from the IANA data that Node carries.
import { DAY_MS, daysFromCivil, HOUR_MS, MINUTE_MS, SECOND_MS } from '../../sim/index.ts';

const QUARTER_MS = 15 * MINUTE_MS;
/** Three months of quarter hours. */
const MOST_REMEMBERED = 8192;

/** Converts between UTC and one zone's wall clock. */
export class Zone {
  readonly #name: string;
  readonly #utc: boolean;
  /** Made when it is first needed: it is dear, and UTC needs none. */
  #format: Intl.DateTimeFormat | undefined;
  /** Offsets at the starts of quarter hours, by their number since 1970. */
  readonly #offsets = new Map<number, number>();

  constructor(name: string) {
    this.#name = name;
    this.#utc = name === 'UTC' || name === 'Etc/UTC';
  }

  /** Wall clock minus UTC at an instant, ms. */
  offsetMs(atMs: number): number {
    if (this.#utc) return 0;
    const quarter = Math.floor(atMs / QUARTER_MS);
    const offsetMs = this.#offsetAtQuarter(quarter);
    // A few changes of old fell within a quarter hour (Monrovia, 7 January 1972, 00:44:30 UTC).
    return offsetMs === this.#offsetAtQuarter(quarter + 1) ? offsetMs : this.#offsetAt(atMs);
  }

  /** The instants, ascending, at which this zone's clock showed a wall time: none in a gap, two in a fold. */
  instantsOf(wallMs: number): number[] {
    if (this.#utc) return [wallMs];
    const before = wallMs - this.offsetMs(wallMs - DAY_MS);
    const after = wallMs - this.offsetMs(wallMs + DAY_MS);
    const candidates = before === after ? [before] : [Math.min(before, after), Math.max(before, after)];
    return candidates.filter((atMs) => atMs + this.offsetMs(atMs) === wallMs);
  }

  #offsetAtQuarter(quarter: number): number {
    let offsetMs = this.#offsets.get(quarter);
    if (offsetMs === undefined) {
      offsetMs = this.#offsetAt(quarter * QUARTER_MS);
      if (this.#offsets.size >= MOST_REMEMBERED) this.#offsets.clear();
      this.#offsets.set(quarter, offsetMs);
    }
    return offsetMs;
  }

  #offsetAt(atMs: number): number {
    this.#format ??= new Intl.DateTimeFormat('en-GB-u-ca-iso8601', {
      timeZone: this.#name,
      hourCycle: 'h23',
      year: 'numeric',
      month: 'numeric',
      day: 'numeric',
      hour: 'numeric',
      minute: 'numeric',
      second: 'numeric',
    });
    const part: Record<string, number> = {};
    for (const { type, value } of this.#format.formatToParts(atMs)) part[type] = Number(value);
    const wallMs =
      daysFromCivil(part['year'] ?? 0, part['month'] ?? 1, part['day'] ?? 1) * DAY_MS +
      (part['hour'] ?? 0) * HOUR_MS +
      (part['minute'] ?? 0) * MINUTE_MS +
      (part['second'] ?? 0) * SECOND_MS;
    return wallMs - Math.floor(atMs / SECOND_MS) * SECOND_MS;
  }
}
