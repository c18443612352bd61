// Durations, times and ratios written as text. The schema has checked their form; here their value is checked.
import { DAY_MS, durationText, parseDuration, parseUtc, utcText } from '../clock.ts';
import type { Mistakes } from '../document/mistakes.ts';
import { describe } from '../document/words.ts';
import type { Ratio } from './scenario.ts';

const LONGEST_MS = 36_525 * DAY_MS;

export class Texts {
  readonly #mistakes: Mistakes;

  constructor(mistakes: Mistakes) {
    this.#mistakes = mistakes;
  }

  /** Whole ms of a duration between two bounds, or the fallback where there is no text. */
  duration(
    pointer: string,
    text: string | undefined,
    fallbackMs: number,
    { least = 0, most = LONGEST_MS }: { least?: number; most?: number } = {},
  ): number {
    if (text === undefined) return fallbackMs;
    const ms = parseDuration(text.replace(/^[+-]/, ''));
    const signed = ms === undefined ? undefined : text.startsWith('-') ? -ms : ms;
    if (signed !== undefined && signed >= least && signed <= most) return signed;
    const bounds = `a duration from ${durationText(least)} to ${durationText(most)}`;
    this.#mistakes.add(pointer, bounds, describe(text), 'stay within the limits');
    return fallbackMs;
  }

  /** Unix ms of an RFC 3339 time, or the fallback where there is no text. */
  time(pointer: string, text: string | undefined, fallbackMs: number, leastMs = 0): number {
    if (text === undefined) return fallbackMs;
    const ms = parseUtc(text);
    if (ms !== undefined && ms >= leastMs) return ms;
    const expected = `a time that exists, from ${utcText(leastMs)} on`;
    this.#mistakes.add(pointer, expected, describe(text), 'correct the date or the time of day');
    return fallbackMs;
  }

  /** A share from 0 to 1, or the fallback where there is no text. */
  ratio(pointer: string, text: string | undefined, fallback: Ratio): Ratio {
    if (text === undefined) return fallback;
    const [num = 0, den = 1] = text.split('/').map(Number);
    if (num <= den) return { num, den };
    this.#mistakes.add(
      pointer,
      'a ratio of at most 1',
      describe(text),
      'make the first number the smaller one',
    );
    return fallback;
  }
}
