// The simulator's front door: exports only. The harness sees nothing else of it.
export { startBroker, type Broker, type Rights } from './broker/embedded.ts';
export { topicMatches } from './broker/topics.ts';
export { payloadDigest, readTap, Tap, type TapRecord } from './broker/tap.ts';
export {
  civilFromDays,
  DAY_MS,
  daysFromCivil,
  durationText,
  HOUR_MS,
  MINUTE_MS,
  parseDuration,
  parseUtc,
  SECOND_MS,
  utcText,
} from './clock.ts';
export { parseDocument, readText, type SourceDocument } from './document/document.ts';
export { Mistakes } from './document/mistakes.ts';
export { nearestWord } from './document/nearest.ts';
export { below } from './document/pointer.ts';
export { noteWord, schemaCheck } from './document/schema.ts';
export { regularFileBytes, whyUnreadable } from './document/regular-file.ts';
export { describe, oneLine } from './document/words.ts';
export { BadInput, NotCompleted, type Place } from './errors.ts';
export { fleetEvents, WHOLE, type FleetEvent, type Shard } from './fleet/fleet.ts';
export { packageRoot } from './package-root.ts';
export { codecFor, decoderFor, wireReading, type Codec, type WireReading } from './payload/codec.ts';
export { payloadSchemaFile } from './payload/schema-file.ts';
export { StreamDigest, streamDigest } from './payload/digest.ts';
export { emissionPayload, willPayload } from './payload/emission.ts';
export { Ledger } from './publish/ledger.ts';
export {
  publishFleet,
  type Pace,
  type Progress as PublishProgress,
  type PublishSummary,
} from './publish/publish-fleet.ts';
export type { FleetStep } from './publish/lane.ts';
export { readLedger, type LedgerRecord } from './publish/read-ledger.ts';
export { RangeSet } from './publish/range-set.ts';
export { FIELDS, type ClockSource, type Field, type Fix, type Reading } from './reading.ts';
export { parseScenario, readScenario } from './scenario/read-scenario.ts';
export { resolvedText } from './scenario/resolved-text.ts';
export type { Fault, Group, PayloadKind, Qos, Scenario } from './scenario/scenario.ts';
export type { Connect, Disconnect, Discard, Emission, TrackerEvent } from './tracker/event.ts';
export { rosterOf, type TrackerSpec } from './tracker/roster.ts';
export { trackerEvents } from './tracker/tracker.ts';
