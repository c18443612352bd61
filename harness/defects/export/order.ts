// Defects of the order of rows.
import type { Damage } from '../../pipeline/damage.ts';
import { defect } from '../defect.ts';

const order = (name: string, happens: string, cause: string, orderBy: string, contract?: string) =>
  defect(
    'export',
    { name, happens, breaks: ['ordering.rows'], cause, ...(contract === undefined ? {} : { contract }) },
    { select: (select, read) => read({ ...select, orderBy }) },
  );

function unstableOrder(): Damage {
  let exports = 0;
  return {
    select: (select, read) => {
      exports += 1;
      // Without a complete sort key, the rows of one second come as two workers bring them.
      const ties = exports % 2 === 0 ? 'DESC' : 'ASC';
      return read({ ...select, orderBy: `at_ms / 1000, rowid ${ties}` });
    },
  };
}

export const ORDER_DEFECTS = [
  order(
    'sorted-as-text',
    'The number of the reading is text in the table, where 10 comes before 9.',
    'sorted-as-text',
    'id, boot, CAST(seq AS TEXT)',
    'scenarios/contracts/by-number.yaml',
  ),
  order(
    'arrival-order',
    'The export leaves out ORDER BY, and rows come as they were stored.',
    'arrival-order',
    'rowid',
  ),
  order(
    'falling',
    'The newest row comes first, as on the page.',
    'reversed',
    'at_ms DESC, id DESC, boot DESC, seq DESC',
  ),
  order(
    'ties-unsorted',
    'Rows are sorted by time alone, and ties stand anyhow.',
    'ties-unsorted',
    'at_ms, rowid DESC',
  ),
  order(
    'by-tracker-first',
    'The export goes tracker by tracker.',
    'other-keys-first',
    'id, at_ms, boot, seq',
  ),
  defect(
    'export',
    {
      name: 'unstable-order',
      happens: 'Two workers share the query, and rows of one second come in whatever order they finish.',
      breaks: ['ordering.stable', 'ordering.rows'],
      cause: 'unstable-order',
    },
    unstableOrder,
  ),
  defect(
    'export',
    {
      name: 'shared-consumers',
      happens: 'Two consumers share the subscription; the second, slower one stores its messages in heaps.',
      breaks: ['ordering.rows'],
      cause: 'arrival-order',
    },
    { select: (select, read) => read({ ...select, orderBy: '(rowid / 40), (rowid % 2), rowid' }) },
  ),
] as const;
