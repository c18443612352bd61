// Texts that were cut, or have something before or after them.
import type { CellInstance } from './instances.ts';
import { bestChange, change, commonest, show, type Change } from './cells.ts';

/** Lengths as stores count them. */
const MEASURES: readonly (readonly [string, (text: string) => number])[] = [
  ['UTF-16 units', (text) => text.length],
  ['characters', (text) => Array.from(text).length],
  ['bytes', (text) => Buffer.byteLength(text)],
];

export const TEXT_CUT = change(
  'text-cut',
  'Texts longer than a limit were cut: look at the width of the column.',
  'store',
  (broken, sound) => {
    const cut = broken.filter(({ cell, expected }) => cell !== expected && isStart(cell, expected));
    const limits = MEASURES.flatMap(([unit, lengthOf]): Change[] => {
      const limit = commonest(cut.map(({ cell }) => lengthOf(trimBroken(cell))))?.value;
      if (limit === undefined || limit === 0) return [];
      const longest = Math.max(0, ...sound.map(({ expected }) => lengthOf(expected)));
      return [
        {
          say: `found = the first ${limit} ${unit} of expected (the longest sound text has ${longest})`,
          // A limit in bytes may fall within a character, which is then left out or damaged.
          explains: ({ cell, expected }) =>
            cell !== expected &&
            isStart(cell, expected) &&
            lengthOf(expected) > limit &&
            limit - lengthOf(trimBroken(cell)) < (unit === 'bytes' ? 4 : 1) &&
            lengthOf(trimBroken(cell)) <= limit,
          wouldBreak: ({ expected }) => lengthOf(expected) > limit,
        },
      ];
    });
    return bestChange(limits, broken);
  },
);

function trimBroken(cell: string): string {
  return cell.replace(/[\ufffd\ud800-\udbff]+$/, '');
}

function isStart(cell: string, expected: string): boolean {
  return expected.startsWith(trimBroken(cell)) && cell.length <= expected.length;
}

export const AFFIX = change(
  'prefix',
  'The same text was put before or after every value, or taken away from it.',
  'export',
  (broken) => {
    const added = broken.flatMap(({ cell, expected }) => {
      if (expected === '' || cell.length <= expected.length) return [];
      const before = cell.endsWith(expected)
        ? [`before ${cell.slice(0, cell.length - expected.length)}`]
        : [];
      const after = cell.startsWith(expected) ? [`after ${cell.slice(expected.length)}`] : [];
      return [...before, ...after];
    });
    const taken = broken.flatMap(({ cell, expected }) =>
      cell !== '' && cell !== expected && expected.endsWith(cell)
        ? [expected.slice(0, expected.length - cell.length)]
        : [],
    );
    const most = commonest(added);
    const [where = '', text = ''] = most ? split(most.value) : [];
    const lost = commonest(taken);
    return bestChange(
      [
        ...(most && most.count >= 3
          ? [
              {
                say: `found = expected with ${show(text)} ${where} it`,
                explains: ({ cell, expected }: CellInstance) =>
                  expected !== '' && cell === (where === 'before' ? text + expected : expected + text),
                wouldBreak: () => true,
              },
            ]
          : []),
        ...(lost && lost.count >= 3
          ? [
              {
                say: `found = expected without ${show(lost.value)} in front`,
                explains: ({ cell, expected }: CellInstance) => lost.value + cell === expected,
                wouldBreak: ({ expected }: CellInstance) => expected.startsWith(lost.value),
              },
            ]
          : []),
      ],
      broken,
    );
  },
);

function split(tagged: string): readonly [string, string] {
  const at = tagged.indexOf(' ');
  return [tagged.slice(0, at), tagged.slice(at + 1)];
}
