// Publisher against broker: which emissions did the broker accept, unchanged and in order?
// The tap holds digests, so every emission is made again and its digest looked for, tracker by tracker.
import {
  emissionPayload,
  payloadDigest,
  RangeSet,
  rosterOf,
  trackerEvents,
  willPayload,
  type Emission,
  type Scenario,
  type TapRecord,
  type TrackerSpec,
} from '../../sim/index.ts';

/** One message at the tap that no emission of the scenario explains. */
export interface StrangeMessage {
  readonly client: string;
  readonly topic: string;
  readonly bytes: number;
}

/** What a tap proves of one tracker. */
export interface TrackerAtTap {
  readonly spec: TrackerSpec;
  /** Emission numbers that the broker accepted, bytes unchanged. */
  readonly accepted: RangeSet;
  /** Messages accepted once more (redelivery after a broken link). */
  redelivered: number;
  /** Emissions whose bytes the broker took more than once: delivered again, or sent twice on purpose. */
  readonly again: RangeSet;
  /** Place of emission n in the order in which the broker took the whole fleet's messages. */
  arrivals: number[];
  /** First copies that came after a later message of the same topic. */
  disordered: number;
  firstDisorder: { readonly n: number; readonly after: number } | undefined;
  wills: number;
}

export interface AtTap {
  readonly trackers: ReadonlyMap<string, TrackerAtTap>;
  readonly messages: number;
  readonly strange: readonly StrangeMessage[];
  readonly strangeCount: number;
  /** False where the tap's record breaks off: then a message that isn't in it may have been accepted. */
  readonly complete: boolean;
}

/** Called with each emission that is made again, once, with its payload. */
export type OnMade = (spec: TrackerSpec, emission: Emission, payload: Uint8Array) => void;

const STRANGE_KEPT = 20;

/** Matches a tap with the emissions of a scenario, both as streams. */
export async function reconcileTap(
  scenario: Scenario,
  tap: AsyncIterable<TapRecord> & { readonly complete?: boolean },
  onMade: OnMade,
): Promise<AtTap> {
  const matchers = new Map<string, Matcher>();
  const byTopic = new Map<string, Matcher>();
  for (const spec of rosterOf(scenario)) {
    const matcher = new Matcher(scenario, spec, onMade);
    matchers.set(spec.identity.imei, matcher);
    byTopic.set(spec.readingsTopic, matcher);
    byTopic.set(spec.statusTopic, matcher);
  }
  const strange: StrangeMessage[] = [];
  let strangeCount = 0;
  let messages = 0;
  for await (const record of tap) {
    messages += 1;
    if (byTopic.get(record.topic)?.take(record, messages) === true) continue;
    strangeCount += 1;
    if (strange.length < STRANGE_KEPT) {
      strange.push({ client: record.client, topic: record.topic, bytes: record.bytes });
    }
  }
  const trackers = new Map([...matchers].map(([id, matcher]) => [id, matcher.seen]));
  return { trackers, messages, strange, strangeCount, complete: tap.complete ?? true };
}

/** Redeliveries follow their first copy closely; so many matched messages are remembered per tracker. */
const REMEMBERED = 512;

/** The order of arrival is kept for so many messages of the fleet: it serves diagnosis, not the verdict. */
const ARRIVALS_KEPT = 2_000_000;

class Matcher {
  readonly seen: TrackerAtTap;
  readonly #emissions: Iterator<Emission, void>;
  readonly #onMade: OnMade;
  readonly #willDigest: string;
  /** Emissions made again and not yet seen at the tap, by topic and digest. */
  readonly #waiting = new Map<string, number[]>();
  /** Keys matched lately. */
  readonly #matched = new Map<string, number>();
  /** Of the record that is being taken. */
  #arrival = 0;
  readonly #lastByTopic = new Map<string, number>();

  constructor(scenario: Scenario, spec: TrackerSpec, onMade: OnMade) {
    this.seen = {
      spec,
      accepted: new RangeSet(),
      redelivered: 0,
      again: new RangeSet(),
      arrivals: [],
      disordered: 0,
      firstDisorder: undefined,
      wills: 0,
    };
    this.#emissions = emissionsOf(scenario, spec);
    this.#onMade = onMade;
    this.#willDigest = payloadDigest(willPayload(spec));
  }

  /** False where no emission explains the message. */
  take(record: TapRecord, arrival: number): boolean {
    this.#arrival = arrival;
    const key = `${record.topic} ${record.sha256}`;
    if (record.topic === this.seen.spec.statusTopic && record.sha256 === this.#willDigest) {
      this.seen.wills += 1;
      return true;
    }
    while (!this.#matched.has(key)) {
      if (this.#acceptWaiting(record.topic, key)) return true;
      if (!this.#advance()) return false;
    }
    // Seen before: either it was delivered again, or the tracker sent the same bytes twice on purpose.
    if (this.#waiting.has(key) || this.#advance()) {
      if (this.#acceptWaiting(record.topic, key)) return true;
    }
    this.seen.redelivered += 1;
    this.seen.again.add(this.#matched.get(key) ?? 0);
    return true;
  }

  #acceptWaiting(topic: string, key: string): boolean {
    const n = this.#waiting.get(key)?.shift();
    if (n === undefined) return false;
    this.#accept(n, topic, key);
    return true;
  }

  #accept(n: number, topic: string, key: string): void {
    if (this.#waiting.get(key)?.length === 0) this.#waiting.delete(key);
    this.seen.accepted.add(n);
    const twin = this.#matched.get(key);
    if (twin !== undefined) this.seen.again.add(twin);
    this.#matched.set(key, n);
    if (this.#arrival <= ARRIVALS_KEPT) this.seen.arrivals[n] = this.#arrival;
    if (this.#matched.size > REMEMBERED) {
      const [oldest] = this.#matched.keys();
      if (oldest !== undefined) this.#matched.delete(oldest);
    }
    const last = this.#lastByTopic.get(topic) ?? -1;
    if (n < last) {
      this.seen.disordered += 1;
      this.seen.firstDisorder ??= { n, after: last };
    }
    this.#lastByTopic.set(topic, Math.max(n, last));
  }

  /** Makes the next emission again; false at the end of the tracker's life. */
  #advance(): boolean {
    const step = this.#emissions.next();
    if (step.done) return false;
    const emission = step.value;
    const payload = emissionPayload(this.seen.spec, emission);
    this.#onMade(this.seen.spec, emission, payload);
    const key = `${emission.topic} ${payloadDigest(payload)}`;
    const numbers = this.#waiting.get(key);
    if (numbers) numbers.push(emission.n);
    else this.#waiting.set(key, [emission.n]);
    return true;
  }
}

function* emissionsOf(scenario: Scenario, spec: TrackerSpec): Generator<Emission, void> {
  for (const event of trackerEvents(scenario, spec)) if (event.kind === 'emission') yield event;
}
