// The known word that a mistyped one most likely stands for.

/**
 * Optimal string alignment distance: fewest single-letter insertions, deletions, replacements and swaps of
 * neighbours, no letter touched twice.
 */
export function editDistance(a: string, b: string): number {
  let before: number[] = [];
  let row = Array.from({ length: b.length + 1 }, (_, i) => i);
  for (let i = 1; i <= a.length; i++) {
    const next = [i];
    for (let j = 1; j <= b.length; j++) {
      const replaced = (row[j - 1] ?? 0) + (a[i - 1] === b[j - 1] ? 0 : 1);
      const swapped =
        i > 1 && j > 1 && a[i - 1] === b[j - 2] && a[i - 2] === b[j - 1]
          ? (before[j - 2] ?? 0) + 1
          : Number.POSITIVE_INFINITY;
      next.push(Math.min(replaced, swapped, (row[j] ?? 0) + 1, (next[j - 1] ?? 0) + 1));
    }
    before = row;
    row = next;
  }
  return row[b.length] ?? 0;
}

/** The nearest of `words` within a third of the longer word's length (at least 1); undefined where none is near. */
export function nearestWord(word: string, words: Iterable<string>): string | undefined {
  if (word.length > 100) return undefined;
  let best: string | undefined;
  let bestDistance = Number.POSITIVE_INFINITY;
  for (const candidate of words) {
    const allowed = Math.max(1, Math.floor(Math.max(word.length, candidate.length) / 3));
    const distance = editDistance(word.toLowerCase(), candidate.toLowerCase());
    if (distance <= allowed && distance < bestDistance) {
      best = candidate;
      bestDistance = distance;
    }
  }
  return best;
}
