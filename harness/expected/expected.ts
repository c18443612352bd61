// What must, may and must not come out, recomputed from scenario and seed.
// Each tracker is computed on demand, only as far as the rows have got; what is kept is
// what has been sent and not yet found. Memory grows with trackers and losses, not with rows.
import {
  RangeSet,
  rosterOf,
  trackerEvents,
  type Emission,
  type Reading,
  type Scenario,
  type TrackerEvent,
  type TrackerSpec,
} from '../../sim/index.ts';

/**
 * `must`: the broker took it, so it has to be in the export.
 * `may`: it left the tracker, but nobody can say that the broker has it, or the contract lets it be refused.
 */
export type Due = 'must' | 'may';

export interface ExpectedReading {
  readonly reading: Reading;
  readonly emission: Emission;
  /** Place of the reading in its batch, from 0. */
  readonly inBatch: number;
  readonly due: Due;
  /** Other readings that the contract's identity can't tell from this one: a row may be any of them. */
  readonly twins: readonly Reading[];
}

/** What the evidence says of one emission; supplied by the caller. */
export type DueOf = (spec: TrackerSpec, emission: Emission, reading: Reading) => Due | 'never';

/** What a row's identity turned out to be. */
export type Found =
  | { readonly kind: 'first'; readonly expected: ExpectedReading }
  /** The reading was found in an earlier row, and told what it was where that is still remembered. */
  | {
      readonly kind: 'again';
      readonly expected: ExpectedReading | undefined;
      /** It may be the row of another reading that the contract's identity can't tell from the first. */
      readonly twin: boolean;
    }
  /** The tracker never sent such a reading. */
  | { readonly kind: 'never'; readonly made: boolean };

const NEVER_MADE: Found = { kind: 'never', made: false };
const NEVER_SENT: Found = { kind: 'never', made: true };
const NO_TWINS: readonly Reading[] = [];
const AGAIN: Found = { kind: 'again', expected: undefined, twin: false };

/** How a contract names a reading within its tracker. */
export interface Naming {
  readonly boot: boolean;
  readonly seq: boolean;
  /** Resolution of the time in the name, ms; null where the time is no part of it. */
  readonly atUnitMs: number | null;
  /** Whether further rows of a reading are judged too. */
  readonly repeatsStand: boolean;
}

/** Repeats come close together, in order of time and of arrival; so many found readings are remembered per tracker. */
const REMEMBERED = 64;

/** Which readings have been taken in. Sequence numbers run on, so they are kept as ranges. */
class Taken {
  readonly #naming: Naming;
  readonly #byBoot = new Map<number, RangeSet>();
  readonly #keys = new Set<string | number>();

  constructor(naming: Naming) {
    this.#naming = naming;
  }

  key(boot: number, seq: number, atMs: number): string | number {
    const { atUnitMs } = this.#naming;
    if (this.isRanged) return seq < 2 ** 32 && boot < 2 ** 20 ? boot * 2 ** 32 + seq : `${boot}/${seq}`;
    const at = atUnitMs === null ? 0 : Math.floor(atMs / atUnitMs);
    if (!this.#naming.boot && !this.#naming.seq) return at;
    return `${this.#naming.boot ? boot : ''}/${this.#naming.seq ? seq : ''}/${at}`;
  }

  /** Boot and sequence name a reading by themselves; the time is checked, not searched by. */
  get isRanged(): boolean {
    return this.#naming.boot && this.#naming.seq;
  }

  add(reading: Reading): void {
    if (!this.isRanged) {
      this.#keys.add(this.key(reading.boot, reading.seq, reading.atMs));
      return;
    }
    let seqs = this.#byBoot.get(reading.boot);
    if (!seqs) {
      seqs = new RangeSet();
      this.#byBoot.set(reading.boot, seqs);
    }
    seqs.add(reading.seq);
  }

  has(boot: number, seq: number, atMs: number): boolean {
    if (!this.isRanged) return this.#keys.has(this.key(boot, seq, atMs));
    return this.#byBoot.get(boot)?.has(seq) ?? false;
  }
}

export class ExpectedTracker {
  readonly spec: TrackerSpec;
  readonly #scenario: Scenario;
  readonly #events: Iterator<TrackerEvent, void>;
  readonly #repeatsStand: boolean;
  readonly #dueOf: DueOf;
  readonly #taken: Taken;
  /** Sent, and no row found yet. */
  readonly #waiting = new Map<string | number, ExpectedReading>();
  /** Made, but never sent. */
  readonly #unsent = new Set<string | number>();
  /** Found lately, where repeats stand. */
  readonly #found = new Map<string | number, ExpectedReading>();
  /** Rows that a name may still have, because several readings bear it. */
  readonly #twinRows = new Map<string | number, { readonly expected: ExpectedReading; left: number }>();
  #twins: ReadonlyMap<string | number, readonly Reading[]> | undefined;
  #done = false;

  constructor(scenario: Scenario, spec: TrackerSpec, dueOf: DueOf, naming: Naming) {
    this.spec = spec;
    this.#scenario = scenario;
    this.#repeatsStand = naming.repeatsStand;
    this.#events = trackerEvents(scenario, spec);
    this.#dueOf = dueOf;
    this.#taken = new Taken(naming);
  }

  /** Looks a row's identity up, computing the tracker's life on as far as needed. */
  find(boot: number, seq: number, atMs: number): Found {
    const key = this.#taken.key(boot, seq, atMs);
    const expected = this.waitingFor(boot, seq, atMs);
    if (expected) {
      this.#waiting.delete(key);
      if (this.#repeatsStand) this.#remember(key, expected);
      if (expected.twins.length > 0) this.#twinRows.set(key, { expected, left: expected.twins.length });
      return { kind: 'first', expected };
    }
    if (this.#unsent.has(key)) return NEVER_SENT;
    if (!this.#taken.has(boot, seq, atMs)) return NEVER_MADE;
    const twin = this.#twinRows.get(key);
    if (twin && twin.left > 0) {
      twin.left -= 1;
      return { kind: 'again', expected: twin.expected, twin: true };
    }
    return this.#repeatsStand ? { kind: 'again', expected: this.#found.get(key), twin: false } : AGAIN;
  }

  /** The reading of that name that was sent and has no row yet; computes the tracker's life on as far as needed. */
  waitingFor(boot: number, seq: number, atMs: number): ExpectedReading | undefined {
    const key = this.#taken.key(boot, seq, atMs);
    for (;;) {
      const expected = this.#waiting.get(key);
      if (expected) return expected;
      if (this.#taken.has(boot, seq, atMs) && !this.#unsent.has(key)) return undefined;
      if (!this.#advance()) return undefined;
    }
  }

  #remember(key: string | number, expected: ExpectedReading): void {
    this.#found.set(key, expected);
    if (this.#found.size <= REMEMBERED) return;
    const [oldest] = this.#found.keys();
    if (oldest !== undefined) this.#found.delete(oldest);
  }

  /** Everything sent that no row was found for. Call once, after the last row. */
  *rest(): Generator<ExpectedReading, void> {
    while (this.#advance());
    yield* this.#waiting.values();
  }

  /** Takes the next event in; false when the tracker's life is over. */
  #advance(): boolean {
    if (this.#done) return false;
    const step = this.#events.next();
    if (step.done) {
      this.#done = true;
      return false;
    }
    const event = step.value;
    if (event.kind === 'discard') {
      for (const reading of event.readings) {
        // Under a weak identity another reading of this name may have been sent.
        if (this.#taken.has(reading.boot, reading.seq, reading.atMs)) continue;
        this.#taken.add(reading);
        this.#unsent.add(this.#key(reading));
      }
    } else if (event.kind === 'emission') {
      this.#take(event);
    }
    return true;
  }

  #take(emission: Emission): void {
    emission.readings.forEach((reading, inBatch) => {
      const key = this.#key(reading);
      const due = this.#dueOf(this.spec, emission, reading);
      const waiting = this.#waiting.get(key);
      const isNew = !this.#taken.has(reading.boot, reading.seq, reading.atMs);
      if (isNew) this.#taken.add(reading);
      if (due === 'never') {
        if (isNew) this.#unsent.add(key);
        return;
      }
      // A repeat changes nothing unless it got through where the message before it didn't.
      const better = this.#unsent.has(key) || (waiting?.due === 'may' && due === 'must');
      if (!isNew && !better) return;
      this.#unsent.delete(key);
      this.#waiting.set(key, { reading, emission, inBatch, due, twins: this.#twinsOf(key) });
    });
  }

  #twinsOf(key: string | number): readonly Reading[] {
    if (this.#taken.isRanged) return NO_TWINS;
    this.#twins ??= this.#findTwins();
    return this.#twins.get(key) ?? NO_TWINS;
  }

  /** Lives the tracker's life once beforehand: a row of the first of two twins may hold the second. */
  #findTwins(): ReadonlyMap<string | number, readonly Reading[]> {
    const seen = new Set<string | number>();
    const twins = new Map<string | number, Reading[]>();
    for (const event of trackerEvents(this.#scenario, this.spec)) {
      if (event.kind !== 'emission' || event.repeat) continue;
      for (const reading of event.readings) {
        const key = this.#key(reading);
        if (seen.has(key)) {
          const known = twins.get(key);
          if (known) known.push(reading);
          else twins.set(key, [reading]);
        } else seen.add(key);
      }
    }
    return twins;
  }

  #key(reading: Reading): string | number {
    return this.#taken.key(reading.boot, reading.seq, reading.atMs);
  }
}

/** The expected trackers of a scenario, by id. */
export function expectedFleet(
  scenario: Scenario,
  dueOf: DueOf,
  naming: Naming,
): ReadonlyMap<string, ExpectedTracker> {
  return new Map(
    rosterOf(scenario).map((spec) => [
      spec.identity.imei,
      new ExpectedTracker(scenario, spec, dueOf, naming),
    ]),
  );
}
