// The verdict in words.
import { oneLine } from '../../sim/index.ts';
import type { Outcome, Verdict } from '../verdict/verdict.ts';
import { grouped, many } from './lines.ts';

export const OUTCOME_WORDS: Readonly<Record<Outcome, string>> = {
  held: 'held',
  broken: 'BROKEN',
  'not-seen': 'not seen',
};

/** What the verdict in words is made from. */
export interface Judged {
  readonly verdict: Verdict;
  /** What is missing, in words; null where nothing is. */
  readonly incomplete: string | null;
  readonly flow: { readonly rows: number };
}

/** A run that was cut short proves nothing by what held so far. */
export function outcomeWord({ outcome }: Verdict, incomplete: string | null): string {
  return incomplete !== null && outcome !== 'broken' ? 'not completed' : OUTCOME_WORDS[outcome];
}

/** The verdict in a sentence or two. */
export function verdictWords({ verdict, flow, incomplete }: Judged): string {
  const partly = incomplete === null ? '' : `The run was not completed: ${grouped(oneLine(incomplete))}. `;
  const ids = (outcome: Outcome) =>
    verdict.checks
      .filter((check) => check.outcome === outcome)
      .map((check) => check.id)
      .join(', ');
  const unseen = ids('not-seen');
  const open = unseen === '' ? '' : ` Not seen, so not proven: ${unseen}.`;
  if (verdict.outcome === 'broken') {
    return `${partly}What stands in the CSV is not what left the trackers: ${ids('broken')} broken.${open}`;
  }
  if (verdict.outcome === 'held') {
    const rows = `${many(flow.rows, 'row')}, ${flow.rows === 1 ? '' : 'each '}compared cell by cell with what was measured`;
    return `${partly}What left the trackers is what stands in the CSV: ${rows}.${open}`;
  }
  if (incomplete !== null && ids('held') !== '') {
    return `${partly}Nothing was broken so far, in ${many(flow.rows, 'row')} compared cell by cell; of the rest nothing is known.${open}`;
  }
  return `${partly}Nothing could be proven.${open}`;
}

/** The verdict on one line. */
export function quietLine(result: Judged): string {
  const word = outcomeWord(result.verdict, result.incomplete);
  return `${word === 'BROKEN' ? 'broken' : word}: ${verdictWords(result)}`;
}
