// The resolved scenario as text: what really runs, with no default left out.
import { durationText, utcText } from '../clock.ts';
import type { Scenario } from './scenario.ts';

/**
 * JSON of the scenario with every default filled in; sets are lists, the place is its name.
 * Beside Unix ms stand the start, the end and the length as text.
 */
export function resolvedText(scenario: Scenario): string {
  const { title, shows, seed, startMs, endMs, place, ...rest } = scenario;
  const readable = {
    title,
    shows,
    seed,
    starts: utcText(startMs),
    ends: utcText(endMs),
    lasts: durationText(endMs - startMs),
    startMs,
    endMs,
    place: place.name,
    ...rest,
  };
  return JSON.stringify(readable, (_, value: unknown) => (value instanceof Set ? [...value] : value), 2);
}
