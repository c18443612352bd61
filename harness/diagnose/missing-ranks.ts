// Missing readings set apart by where they stand in the order of the export.
import { commonest } from './cells.ts';
import { bestContrast, contrast } from './chance.ts';
import type { Hypothesis } from './hypothesis.ts';
import type { ReadingInstance } from './instances.ts';

const hasRank = ({ exportRank }: ReadingInstance): boolean => exportRank !== undefined;

/** Where the export breaks off: highest rank found and lowest missing behind it. */
function cutOf(
  broken: readonly ReadingInstance[],
  sound: readonly ReadingInstance[],
): { readonly afterRank: number; readonly fromRank: number } | undefined {
  if (!broken.some(hasRank) || !sound.some(hasRank)) return undefined;
  const afterRank = sound.reduce((most, { exportRank = -1 }) => Math.max(most, exportRank), -1);
  const behind = broken.map(({ exportRank = -1 }) => exportRank).filter((rank) => rank > afterRank);
  if (behind.length < 3) return undefined;
  return {
    afterRank,
    fromRank: behind.reduce((least, rank) => Math.min(least, rank), Number.POSITIVE_INFINITY),
  };
}

/** The number of rows that came out, where it is such as people choose for limits. */
function roundCount(afterRank: number, fromRank: number): number | undefined {
  for (let unit = 1_000_000; unit >= 100; unit /= 10) {
    const count = Math.floor(fromRank / unit) * unit;
    if (count > afterRank) return count;
  }
  for (let power = 32; power <= 2 ** 31; power *= 2) if (power > afterRank && power <= fromRank) return power;
  return undefined;
}

function rowCap(only: 'round' | 'any'): Hypothesis<ReadingInstance> {
  return contrast<ReadingInstance>(
    'row-cap',
    'The export breaks off after so many rows: look for a limit of the query, a page that was the last by mistake, or a cut file.',
    'export',
    (broken, sound) => {
      const cut = cutOf(broken, sound);
      if (!cut) return undefined;
      const count = roundCount(cut.afterRank, cut.fromRank);
      if (only === 'round' && count === undefined) return undefined;
      return {
        covers: ({ exportRank = -1 }) => exportRank >= cut.fromRank,
        say: () => `in the promised order nothing comes after row ${count ?? cut.fromRank}`,
        tried: 10,
      };
    },
  );
}

/** A limit at a round number is a limit of rows, whatever else begins at the same place. */
export const CAP_AT_ROUND = rowCap('round');
export const ROW_CAP = rowCap('any');

export const PAGE_EDGE = contrast<ReadingInstance>(
  'page-edge',
  'Rows at the seam of two pages were lost: page by a key that is unique, and begin after the last row, not at a count.',
  'export',
  (broken, sound) => {
    const ranks = broken.flatMap(({ exportRank }) => exportRank ?? []).toSorted((a, b) => a - b);
    const candidates = spacingsOf(ranks).map(({ every, at }) => ({
      covers: ({ exportRank }: ReadingInstance) => exportRank !== undefined && exportRank % every === at,
      say: () => `in the promised order they stand ${every} rows apart`,
      tried: 20,
    }));
    return bestContrast(candidates, broken, sound);
  },
);

export interface Spacing {
  readonly every: number;
  readonly at: number;
  /** How many of the places it holds. */
  readonly count: number;
}

/** Commonest steps that are looked at; and into how many a step may be divided, where places between are lost otherwise. */
const STEPS = 5;
const PARTS = [1, 2, 3, 4];

/** Distances at which many of the places stand, and where each begins. */
export function spacingsOf(ranks: readonly number[]): readonly Spacing[] {
  const counts = new Map<number, number>();
  for (let k = 1; k < ranks.length; k++) {
    const step = (ranks[k] ?? 0) - (ranks[k - 1] ?? 0);
    if (step > 1) counts.set(step, (counts.get(step) ?? 0) + 1);
  }
  const steps = [...counts].toSorted((a, b) => b[1] - a[1] || a[0] - b[0]).slice(0, STEPS);
  const distances = new Set(steps.flatMap(([step]) => PARTS.map((part) => step / part)));
  return [...distances].flatMap((every) => {
    if (!Number.isInteger(every) || every < 3) return [];
    const mode = commonest(ranks.map((rank) => rank % every));
    return mode && mode.count >= 3 ? [{ every, at: mode.value, count: mode.count }] : [];
  });
}
