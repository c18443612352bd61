// Time as text, without the wall clock: milliseconds since 1970-01-01T00:00:00Z, UTC, no leap seconds.
// Calendar arithmetic after H. Hinnant, "chrono-compatible low-level date algorithms" (public domain).

export const SECOND_MS = 1000;
export const MINUTE_MS = 60_000;
export const HOUR_MS = 3_600_000;
export const DAY_MS = 86_400_000;

const TWO = Array.from({ length: 100 }, (_, i) => String(i).padStart(2, '0'));

/** Civil date of a day number counted from 1970-01-01, proleptic Gregorian. */
export function civilFromDays(days: number): { year: number; month: number; day: number } {
  const z = days + 719_468;
  const era = Math.floor(z / 146_097);
  const dayOfEra = z - era * 146_097;
  const yearOfEra = Math.floor(
    (dayOfEra -
      Math.floor(dayOfEra / 1460) +
      Math.floor(dayOfEra / 36_524) -
      Math.floor(dayOfEra / 146_096)) /
      365,
  );
  const dayOfYear = dayOfEra - (365 * yearOfEra + Math.floor(yearOfEra / 4) - Math.floor(yearOfEra / 100));
  const shifted = Math.floor((5 * dayOfYear + 2) / 153);
  const day = dayOfYear - Math.floor((153 * shifted + 2) / 5) + 1;
  const month = shifted < 10 ? shifted + 3 : shifted - 9;
  return { year: yearOfEra + era * 400 + (month <= 2 ? 1 : 0), month, day };
}

/** Day number, counted from 1970-01-01, of a civil date. */
export function daysFromCivil(year: number, month: number, day: number): number {
  const y = month <= 2 ? year - 1 : year;
  const era = Math.floor(y / 400);
  const yearOfEra = y - era * 400;
  const dayOfYear = Math.floor((153 * (month > 2 ? month - 3 : month + 9) + 2) / 5) + day - 1;
  const dayOfEra = yearOfEra * 365 + Math.floor(yearOfEra / 4) - Math.floor(yearOfEra / 100) + dayOfYear;
  return era * 146_097 + dayOfEra - 719_468;
}

let cachedDays = Number.NaN;
let cachedDate = '';

/** RFC 3339 in UTC with milliseconds, e.g. `2031-03-03T00:01:00.000Z`. */
export function utcText(atMs: number): string {
  const days = Math.floor(atMs / DAY_MS);
  if (days !== cachedDays) {
    const { year, month, day } = civilFromDays(days);
    cachedDays = days;
    cachedDate = `${String(year).padStart(4, '0')}-${TWO[month]}-${TWO[day]}T`;
  }
  const inDay = atMs - days * DAY_MS;
  const hour = Math.floor(inDay / HOUR_MS);
  const minute = Math.floor(inDay / MINUTE_MS) % 60;
  const second = Math.floor(inDay / SECOND_MS) % 60;
  const ms = Math.floor(inDay) % 1000;
  const msText = ms < 100 ? `0${TWO[ms]}` : String(ms);
  return `${cachedDate}${TWO[hour]}:${TWO[minute]}:${TWO[second]}.${msText}Z`;
}

const RFC3339 =
  /^(\d{4})-(\d\d)-(\d\d)[Tt](\d\d):(\d\d):(\d\d)(?:\.(\d{1,9}))?(?:([Zz])|([+-])(\d\d):(\d\d))$/;

/**
 * Milliseconds of an RFC 3339 time, or undefined where the text isn't one.
 * Stricter than `Date.parse`, which rolls 29 February 2023 over and takes a time without an offset as local.
 * Digits past the millisecond are cut, not rounded. Second 60 is refused: our time scale has no leap seconds.
 */
export function parseUtc(text: string): number | undefined {
  return parseCanonical(text) ?? parseAny(text);
}

let knownDate = '';
let knownDateMs = 0;

/** The form that utcText writes, on a date that was read just before: nearly every time of a long file. */
function parseCanonical(text: string): number | undefined {
  if (text.length !== 24 || text.charCodeAt(23) !== 0x5a || !text.startsWith(knownDate) || knownDate === '') {
    return undefined;
  }
  // `hh:mm:ss.mmm`: separators, then digits.
  if (text.charCodeAt(13) !== 0x3a || text.charCodeAt(16) !== 0x3a || text.charCodeAt(19) !== 0x2e)
    return undefined;
  let ms = 0;
  for (let k = 11; k < 23; k++) {
    const weight = CANONICAL_WEIGHT_MS[k - 11] as number;
    if (weight === 0) continue;
    const digit = text.charCodeAt(k) - 0x30;
    if (digit < 0 || digit > 9) return undefined;
    ms += digit * weight;
  }
  const hour = text.slice(11, 13);
  if (hour > '23' || text.charCodeAt(14) > 0x35 || text.charCodeAt(17) > 0x35) return undefined;
  return knownDateMs + ms;
}

const CANONICAL_WEIGHT_MS = [
  10 * HOUR_MS,
  HOUR_MS,
  0,
  10 * MINUTE_MS,
  MINUTE_MS,
  0,
  10 * SECOND_MS,
  SECOND_MS,
  0,
  100,
  10,
  1,
];

function parseAny(text: string): number | undefined {
  const m = RFC3339.exec(text);
  if (!m) return undefined;
  const [year, month, day, hour, minute, second] = m.slice(1, 7).map(Number) as [
    number,
    number,
    number,
    number,
    number,
    number,
  ];
  if (month < 1 || month > 12 || hour > 23 || minute > 59 || second > 59) return undefined;
  const days = daysFromCivil(year, month, day);
  const back = civilFromDays(days);
  if (back.day !== day || back.month !== month || day < 1) return undefined;
  knownDate = `${text.slice(0, 10)}T`;
  knownDateMs = days * DAY_MS;
  const ms = m[7] === undefined ? 0 : Number(m[7].padEnd(3, '0').slice(0, 3));
  let offsetMs = 0;
  if (m[9] !== undefined) {
    const offsetHour = Number(m[10]);
    const offsetMinute = Number(m[11]);
    if (offsetHour > 23 || offsetMinute > 59) return undefined;
    offsetMs = (m[9] === '-' ? -1 : 1) * (offsetHour * HOUR_MS + offsetMinute * MINUTE_MS);
  }
  return days * DAY_MS + hour * HOUR_MS + minute * MINUTE_MS + second * SECOND_MS + ms - offsetMs;
}

const DURATION_PART = /(\d+(?:\.\d+)?)(ms|s|min|h|d)/y;
const DURATION_UNIT_MS: Readonly<Record<string, number>> = {
  ms: 1,
  s: SECOND_MS,
  min: MINUTE_MS,
  h: HOUR_MS,
  d: DAY_MS,
};

/** Whole milliseconds of a duration such as `90s`, `1h30min` or `2d`; undefined where the text isn't one. */
export function parseDuration(text: string): number | undefined {
  let total = 0;
  let at = 0;
  DURATION_PART.lastIndex = 0;
  while (at < text.length) {
    DURATION_PART.lastIndex = at;
    const part = DURATION_PART.exec(text);
    if (!part) return undefined;
    total += Number(part[1]) * (DURATION_UNIT_MS[part[2] ?? ''] ?? Number.NaN);
    at = DURATION_PART.lastIndex;
  }
  return at > 0 && Number.isFinite(total) ? Math.round(total) : undefined;
}

/** The duration in the same notation, e.g. `1h30min`. */
export function durationText(ms: number): string {
  let rest = Math.round(ms);
  if (rest === 0) return '0s';
  let text = rest < 0 ? '-' : '';
  rest = Math.abs(rest);
  for (const [unit, size] of [
    ['d', DAY_MS],
    ['h', HOUR_MS],
    ['min', MINUTE_MS],
    ['s', SECOND_MS],
    ['ms', 1],
  ] as const) {
    const n = Math.floor(rest / size);
    rest -= n * size;
    if (n > 0) text += `${n}${unit}`;
  }
  return text;
}
