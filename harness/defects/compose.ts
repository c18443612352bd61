// Several defects in one pipeline: each stage goes through all of them, in the order given.
import { BadInput } from '../../sim/index.ts';
import type { CellWriter } from '../pipeline/cell.ts';
import type { Damage, MakeDamage, ReadRows } from '../pipeline/damage.ts';
import type { Arrival } from '../pipeline/subscriber.ts';

type Hook = keyof Damage;

/** Settings, of which a pipeline has one. */
const SETTINGS = ['session', 'batch', 'store', 'dying', 'encoding'] as const satisfies readonly Hook[];

/** Damage by all of them. Throws BadInput where two set the same thing, such as the store's key. */
export function composed(makers: readonly MakeDamage[]): MakeDamage {
  return () => compose(makers.map((make) => make()));
}

function compose(damages: readonly Damage[]): Damage {
  const [first, ...others] = damages;
  if (first === undefined) return {};
  return others.reduce(both, first);
}

function both(a: Damage, b: Damage): Damage {
  for (const setting of SETTINGS) {
    if (a[setting] !== undefined && b[setting] !== undefined) {
      throw new BadInput(
        `defects: expected one that sets the pipeline's ${setting}, found two. Mend: prove them one by one.`,
      );
    }
  }
  return { ...a, ...b, ...chains(a, b) };
}

/** The hooks that both have, one after the other. */
function chains(a: Damage, b: Damage): Damage {
  return {
    ...chain(a.subscriptions, b.subscriptions, (x, y) => ({ subscriptions: (sound) => y(x(sound)) })),
    ...chain(a.message, b.message, (x, y) => ({
      message: (message: Arrival) => {
        const taken = x(message);
        return taken && y(taken);
      },
    })),
    ...chain(a.readings, b.readings, (x, y) => ({
      readings: (readings, message) => y(x(readings, message), message),
    })),
    ...chain(a.row, b.row, (x, y) => ({
      row: (row, message) => {
        const kept = x(row, message);
        return kept && y(kept, message);
      },
    })),
    ...chain(a.select, b.select, (x, y) => ({
      select: (select, read, query) => {
        const within: ReadRows = (asked) => x(asked, read, query);
        return y(select, within, query);
      },
    })),
    ...chain(a.columns, b.columns, (x, y) => ({ columns: (sound) => y(x(sound)) })),
    ...chain(a.cell, b.cell, (x, y) => ({
      cell: (sound: CellWriter, column, csv) => y(x(sound, column, csv), column, csv),
    })),
    ...chain(a.lines, b.lines, (x, y) => ({ lines: (sound, query) => y(x(sound, query), query) })),
  };
}

function chain<T>(a: T | undefined, b: T | undefined, join: (a: T, b: T) => Damage): Damage {
  return a === undefined || b === undefined ? {} : join(a, b);
}
