// What the hypotheses about cells share: a cause says what a cell becomes, and that is looked for.
import type { Cause, Hop } from '../verdict/verdict.ts';
import type { Fit, Hypothesis } from './hypothesis.ts';
import type { CellInstance } from './instances.ts';

/** Below so many different values a pattern may be a coincidence. */
const ENOUGH_VALUES = 3;

/** One thing that may have happened to the cells of a column. */
export interface Change {
  /** Whether it makes of the expected cell what stands there. Asked of broken cells. */
  readonly explains: (cell: CellInstance) => boolean;
  /** Whether it would have broken a cell that is sound; none where left out. */
  readonly wouldBreak?: (cell: CellInstance) => boolean;
  /** What it does, e.g. `found = expected × 3.6`. */
  readonly say: string;
  readonly atMost?: Cause['sure'];
}

/** A cause with parameters: `find` looks for those that explain the most. */
export function change(
  name: string,
  words: string,
  hop: Hop,
  find: (broken: readonly CellInstance[], sound: readonly CellInstance[]) => Change | undefined,
): Hypothesis<CellInstance> {
  return {
    name,
    words,
    hop,
    fit(broken, sound) {
      const found = find(broken, sound);
      return found && fitOf(found, broken);
    },
  };
}

/** A cause that makes one text of another; of several spellings the one that explains the most. */
export function rewrite(
  name: string,
  words: string,
  hop: Hop,
  say: string,
  spellings: readonly ((expected: string) => string)[],
): Hypothesis<CellInstance> {
  const candidates = spellings.map((spelling) => ({
    explains: ({ expected, cell }: CellInstance) => cell !== expected && cell === spelling(expected),
    wouldBreak: ({ expected }: CellInstance) => spelling(expected) !== expected,
    say,
  }));
  return change(name, words, hop, (broken) => bestChange(candidates, broken));
}

function fitOf(found: Change, broken: readonly CellInstance[]): Fit<CellInstance> | undefined {
  const covered = broken.filter((cell) => found.explains(cell));
  const [first] = covered;
  if (!first) return undefined;
  const alike = distinct(covered.map(({ expected }) => expected)) < ENOUGH_VALUES;
  const atMost = found.atMost ?? (alike ? 'likely' : undefined);
  return {
    covers: found.explains,
    wouldBreak: found.wouldBreak ?? (() => false),
    exact: true,
    evidence: `${found.say} in ${covered.length} of ${broken.length} cells; e.g. ${show(first.expected)} → ${show(first.cell)}`,
    ...(atMost && { atMost }),
  };
}

/** The candidate that explains the most cells; the first of several. */
export function bestChange(
  candidates: readonly Change[],
  broken: readonly CellInstance[],
): Change | undefined {
  let best: Change | undefined;
  let most = 0;
  for (const candidate of candidates) {
    const count = broken.filter((cell) => candidate.explains(cell)).length;
    if (count > most) [best, most] = [candidate, count];
  }
  return best;
}

export function distinct(values: Iterable<unknown>): number {
  return new Set(values).size;
}

/** The commonest value and how often it comes; the first of several. */
export function commonest<V>(
  values: readonly V[],
): { readonly value: V; readonly count: number } | undefined {
  const counts = new Map<V, number>();
  for (const value of values) counts.set(value, (counts.get(value) ?? 0) + 1);
  let best: { value: V; count: number } | undefined;
  for (const [value, count] of counts) if (!best || count > best.count) best = { value, count };
  return best;
}

const SHOWN = 40;

/** A cell as it is quoted in evidence: signs that can't be seen are written out. */
export function show(cell: string): string {
  const cut = cell.length > SHOWN ? `${Array.from(cell).slice(0, SHOWN).join('')}…` : cell;
  return /^[-+]?[\d.]+$/.test(cell) ? cell : JSON.stringify(cut);
}

/** A number in evidence. */
export function numeral(value: number): string {
  return String(Number(value.toPrecision(9)));
}

/** Position of the cell's column in its row. */
export function indexOf({ column, columns }: CellInstance): number {
  return columns.indexOf(column);
}
