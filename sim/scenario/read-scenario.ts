// The front door: a scenario file becomes a Scenario, or a BadInput that tells every mistake in it.
import { dirname, resolve } from 'node:path';
import { utcText } from '../clock.ts';
import { parseDocument, readText, type SourceDocument } from '../document/document.ts';
import { Mistakes } from '../document/mistakes.ts';
import { below } from '../document/pointer.ts';
import { noteWord, schemaCheck } from '../document/schema.ts';
import { describe } from '../document/words.ts';
import { BadInput } from '../errors.ts';
import type { PlaceMap } from '../place/place.ts';
import { BUILTIN_PLACES, builtinPlace, readPlace } from '../place/read-place.ts';
import {
  DEFAULT_PLACE,
  DEFAULT_SEED,
  DEFAULT_START_MS,
  DEFAULT_WEATHER,
  GPS_EPOCH_MS,
  LONGEST_SCENARIO_MS,
  LAST_END_MS,
  MOST_TRACKERS,
} from './defaults.ts';
import type { Group as RawGroup, RawScenario } from './raw.ts';
import { resolveFault, type Members } from './resolve-faults.ts';
import { resolveGroup } from './resolve-group.ts';
import type { Fault, Group, Scenario } from './scenario.ts';
import schema from './scenario.schema.json' with { type: 'json' };
import { Texts } from './texts.ts';
import { checkCollisions } from './topics.ts';

const checkSchema = schemaCheck(schema);

export interface Overrides {
  /** Takes the place of the file's seed. */
  readonly seed?: string;
}

/**
 * Reads a scenario file (YAML, at most 4 MiB).
 * @throws BadInput with every mistake found, in the order of the file.
 */
export function readScenario(file: string, overrides: Overrides = {}): Scenario {
  return parseScenario(readText(file), file, overrides);
}

/** The same for the text of a scenario; places named in it are looked for beside `file`. */
export function parseScenario(text: string, file: string, overrides: Overrides = {}): Scenario {
  const document = parseDocument(text, file);
  const mistakes = new Mistakes(document);
  checkSchema(document, mistakes);
  if (mistakes.full) mistakes.throwIfAny();
  const scenario = resolveScenario(document, mistakes, overrides);
  mistakes.throwIfAny();
  if (scenario === undefined) throw new Error(`${file}: a scenario without mistakes was not resolved`);
  return scenario;
}

/**
 * Resolves what the schema found nothing wrong with, so that mistakes of both kinds are told at once.
 * Undefined where there is too little to go on.
 */
function resolveScenario(
  document: SourceDocument,
  mistakes: Mistakes,
  overrides: Overrides,
): Scenario | undefined {
  if (!isRecord(document.value)) return undefined;
  const source = document.value;
  const sound = <K extends keyof RawScenario>(key: K): RawScenario[K] | undefined =>
    mistakes.within(`/${key}`) ? undefined : (source[key] as RawScenario[K] | undefined);

  const texts = new Texts(mistakes);
  const startMs = texts.time('/starts', sound('starts'), DEFAULT_START_MS, GPS_EPOCH_MS);
  const lastsMs = texts.duration('/lasts', sound('lasts'), LONGEST_SCENARIO_MS, {
    least: 1,
    most: LONGEST_SCENARIO_MS,
  });
  const endMs = startMs + lastsMs;
  checkEnd(endMs, mistakes);
  const place = mistakes.within('/place')
    ? undefined
    : resolvePlace(sound('place') ?? DEFAULT_PLACE, document.file, mistakes);

  const rawGroups = Array.isArray(source['fleet']) ? source['fleet'] : [];
  const groups = resolveFleet(rawGroups, place, mistakes);
  const faults = resolveFaults(source['faults'], rawGroups, { startMs, endMs, mistakes });
  if (!place) return undefined;
  return {
    title: sound('title') ?? '',
    shows: (sound('shows') ?? '').trim(),
    seed: overrides.seed ?? String(sound('seed') ?? DEFAULT_SEED),
    startMs,
    endMs,
    place,
    weather: { ...DEFAULT_WEATHER, ...sound('weather') },
    groups,
    faults,
  };
}

function isRecord(value: unknown): value is Readonly<Record<string, unknown>> {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}

function checkEnd(endMs: number, mistakes: Mistakes): void {
  if (endMs > LAST_END_MS)
    mistakes.add('/starts', `an end before ${utcText(LAST_END_MS)}`, 'a later one', 'start earlier');
}

function resolvePlace(name: string, scenarioFile: string, mistakes: Mistakes): PlaceMap | undefined {
  const builtin = BUILTIN_PLACES.find((known) => known === name);
  if (builtin) return builtinPlace(builtin);
  if (!/\.(geo)?json$/.test(name)) {
    noteWord('/place', name, [...BUILTIN_PLACES, 'a .geojson file'], mistakes);
    return undefined;
  }
  try {
    return readPlace(resolve(dirname(scenarioFile), name));
  } catch (error) {
    if (!(error instanceof BadInput)) throw error;
    mistakes.add('/place', 'a place that can be read', describe(name), 'see the lines on that file');
    mistakes.include(error);
    return undefined;
  }
}

function resolveFleet(
  rawGroups: readonly unknown[],
  place: PlaceMap | undefined,
  mistakes: Mistakes,
): Group[] {
  const resolved = rawGroups.flatMap((group, i) => {
    const pointer = below('/fleet', i);
    // The schema has checked the shape of a group without mistakes.
    if (mistakes.within(pointer)) return [];
    return [{ pointer, group: resolveGroup(group as RawGroup, pointer, place, mistakes) }];
  });
  checkNames(rawGroups, mistakes);
  checkCollisions(resolved, mistakes);
  const groups = resolved.map(({ group }) => group);
  const total = groups.reduce((sum, { count }) => sum + count, 0);
  if (total > MOST_TRACKERS) {
    mistakes.add('/fleet', `at most ${MOST_TRACKERS} trackers in all`, String(total), 'lower the counts');
  }
  return groups;
}

function checkNames(rawGroups: readonly unknown[], mistakes: Mistakes): void {
  const seen = new Map<unknown, number>();
  for (const [i, group] of rawGroups.entries()) {
    const name = isRecord(group) ? group['name'] : undefined;
    const pointer = below('/fleet', i, 'name');
    const other = seen.get(name);
    if (name === 'everyone') {
      mistakes.add(pointer, 'another name', describe(name), 'rename it: `everyone` selects the whole fleet');
    } else if (typeof name === 'string' && other !== undefined) {
      mistakes.add(pointer, 'a name of its own', `${describe(name)}, as at /fleet/${other}`, 'rename one');
    } else seen.set(name, i);
  }
}

function resolveFaults(
  rawFaults: unknown,
  rawGroups: readonly unknown[],
  world: { startMs: number; endMs: number; mistakes: Mistakes },
): Fault[] {
  if (!Array.isArray(rawFaults)) return [];
  const members = membersOf(rawGroups);
  const selected = new Map<string, ReadonlySet<number>>();
  return rawFaults.flatMap((fault, i) => {
    const pointer = below('/faults', i);
    if (world.mistakes.within(pointer)) return [];
    return [resolveFault(fault, pointer, { ...world, members, selected })];
  });
}

function membersOf(rawGroups: readonly unknown[]): ReadonlyMap<string, Members> {
  const members = new Map<string, Members>();
  let first = 0;
  for (const group of rawGroups) {
    if (!isRecord(group) || typeof group['name'] !== 'string') continue;
    const { name, count } = group;
    const whole = typeof count === 'number' && Number.isInteger(count) && count > 0;
    // A count that is itself a mistake mustn't make the faults look wrong as well.
    const size = whole ? Math.min(count, MOST_TRACKERS) : MOST_TRACKERS;
    members.set(name, { first, count: size });
    first += size;
  }
  return members;
}
