// Why a reading has more than one row.
import type { Hypothesis } from './hypothesis.ts';
import type { RowInstance } from './instances.ts';
import { commonest } from './cells.ts';
import { chanceOf, surenessOf } from './chance.ts';
import { spacingsOf } from './missing-ranks.ts';

const EXPORTED_TWICE: Hypothesis<RowInstance> = {
  name: 'exported-twice',
  words:
    'The rows of the export were written twice, one after the other: a file was appended to, or an export begun again.',
  hop: 'export',
  fit(broken) {
    const apart = commonest(broken.flatMap((row) => distanceOf(row) ?? []));
    if (!apart || apart.count < 3 || apart.value < 3) return undefined;
    // Every row from the first repeat on is one, at the same distance.
    return {
      covers: (row) => distanceOf(row) === apart.value,
      wouldBreak: () => false,
      evidence: `${apart.count} of ${broken.length} rows stand ${apart.value} records after their first`,
      atMost: apart.count === broken.length ? 'certain' : 'possible',
    };
  },
};

function distanceOf({ record, firstRecord }: RowInstance): number | undefined {
  return firstRecord === undefined ? undefined : record - firstRecord;
}

const PAGE_EDGE: Hypothesis<RowInstance> = {
  name: 'page-edge',
  words:
    'Rows at the seam of two pages were written twice: begin a page after the last row of the one before.',
  hop: 'export',
  fit(broken) {
    const next = broken.filter((row) => distanceOf(row) === 1).map(({ record }) => record);
    const [spacing] = spacingsOf(next.toSorted((a, b) => a - b)).toSorted(
      (a, b) => b.count - a.count || b.every - a.every,
    );
    if (!spacing) return undefined;
    const { every } = spacing;
    // Of rows that stand anyhow, one in `every` has a place, and there are as many places to choose from.
    const atMost = surenessOf(chanceOf(spacing.count, next.length - spacing.count, 1, every - 1), 20 * every);
    if (!atMost) return undefined;
    const covers = (row: RowInstance): boolean => distanceOf(row) === 1 && row.record % every === spacing.at;
    const count = broken.filter(covers).length;
    return {
      covers,
      wouldBreak: () => false,
      evidence: `${count} of ${broken.length} rows follow their first at once, ${every} records apart`,
      atMost,
    };
  },
};

const REDELIVERY: Hypothesis<RowInstance> = {
  name: 'redelivery-stored',
  words:
    'A message that was delivered again was stored again: at least once (QoS 1) means that the store must tell repeats by identity.',
  hop: 'consumer',
  fit(broken) {
    const known = broken.filter(({ sentAgain }) => sentAgain !== undefined);
    const again = known.filter(({ sentAgain }) => sentAgain === true).length;
    // What the broker delivers twice by itself, as after a broken connection, is seen nowhere.
    const unseen = again < known.length && 2 * again >= known.length;
    return {
      covers: ({ sentAgain, firstRecord }) =>
        sentAgain === undefined || unseen ? firstRecord !== undefined : sentAgain,
      wouldBreak: ({ sentAgain }) => sentAgain === true,
      exact: true,
      evidence:
        known.length > 0
          ? `the broker took ${again} of ${known.length} of them more than once${unseen ? ' and may have delivered the others again' : ''}`
          : `${broken.length} rows have the identity of a row before`,
      ...(known.length > 0 && !unseen ? {} : { atMost: 'likely' as const }),
    };
  },
};

export const REPEAT_HYPOTHESES: readonly Hypothesis<RowInstance>[] = [EXPORTED_TWICE, PAGE_EDGE, REDELIVERY];
