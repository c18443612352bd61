// Why a header differs from the promised one.
import type { Cause } from '../verdict/verdict.ts';

const DELIMITERS = [',', ';', '\t', '|'];

/** The cause, or null where no known one fits. `names` are promised, `found` are the cells of the first record. */
export function causeOfHeader(names: readonly string[], found: readonly string[]): Cause | null {
  const cause = (name: string, words: string, evidence: string, sure: Cause['sure'] = 'certain'): Cause => ({
    name,
    words,
    evidence,
    explains: 1,
    sure,
  });
  if (isSame(names, found)) return null;
  const [first = ''] = found;
  if (first.startsWith('\ufeff') && isSame(names, [first.slice(1), ...found.slice(1)])) {
    return cause(
      'byte-order-mark',
      'A byte order mark stands before the first name.',
      `the first cell begins with U+FEFF`,
    );
  }
  const other = DELIMITERS.find((delimiter) => {
    const cells = found.join(',').split(delimiter);
    return found.length < names.length && isSame(names, cells);
  });
  if (other !== undefined) {
    return cause(
      'other-delimiter',
      'Cells are parted by another delimiter than promised: the language setting of a program often decides it.',
      `parted by ${JSON.stringify(other)} the header is as promised`,
    );
  }
  if (found.length > names.length && isSame(names, found.slice(0, names.length))) {
    const more = found.slice(names.length);
    return more.every((cell) => cell === '')
      ? cause(
          'trailing-delimiter',
          'A delimiter ends the header.',
          `${more.length} empty cells after the last name`,
        )
      : cause('column-added', 'The export has columns that the contract does not name.', more.join(', '));
  }
  const lost = names.filter((name) => !found.includes(name));
  const added = found.filter((name) => !names.includes(name));
  if (lost.length === 0 && added.length === 0 && found.length === names.length) {
    return cause('columns-reordered', 'The columns stand in another order than promised.', found.join(', '));
  }
  if (
    added.length === 0 &&
    isSame(
      names.filter((name) => !lost.includes(name)),
      found,
    )
  ) {
    return cause('column-dropped', 'A promised column is missing.', lost.join(', '));
  }
  if (
    lost.length === 0 &&
    isSame(
      found.filter((name) => !added.includes(name)),
      names,
    )
  ) {
    return cause('column-added', 'The export has columns that the contract does not name.', added.join(', '));
  }
  const kept = names.filter((name, k) => found[k] === name).length;
  if (found.length === names.length && kept > 0 && kept + lost.length === names.length) {
    const pairs = names.flatMap((name, k) => (found[k] === name ? [] : [`${name} → ${found[k] ?? ''}`]));
    return cause('header-renamed', 'Columns have other names than promised.', pairs.slice(0, 5).join(', '));
  }
  if (found.length === names.length && kept === 0 && found.some((cell) => /^-?\d[\d.:TZ-]*$/.test(cell))) {
    return cause(
      'header-missing',
      'The first record is a row: the header was left out.',
      found.slice(0, 3).join(', '),
    );
  }
  if (found.length === names.length && kept === 0) {
    return cause(
      'header-renamed',
      'All columns have other names than promised.',
      found.slice(0, 5).join(', '),
      'likely',
    );
  }
  return null;
}

function isSame(a: readonly string[], b: readonly string[]): boolean {
  return a.length === b.length && a.every((text, k) => text === b[k]);
}
