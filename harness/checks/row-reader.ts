// From the records of an export to rows matched with what was measured.
import type { Column, Contract } from '../contract/contract.ts';
import type { CsvRecord } from '../csv/reader.ts';
import type { ExpectedTracker, Naming } from '../expected/expected.ts';
import { BadInput, type Reading } from '../../sim/index.ts';
import { timesOf, timeUnitMs } from './cell.ts';
import type { Row } from './check.ts';
import { Zone } from './zone.ts';

/** How the contract lets one tracker's readings be told apart. BadInput where it names nothing to go by. */
export function namingOf(contract: Contract): Naming {
  const columns = contract.identity.map((name) => contract.columns.find((column) => column.name === name));
  const names = (field: string) => columns.some((column) => column?.field === field);
  const at = columns.find((column) => column?.field === 'at')?.form;
  if (!names('boot') && !names('seq') && !at) {
    throw new BadInput(
      `contract ${JSON.stringify(contract.title)}: /identity: expected a column of boot, seq or at in it, found ${JSON.stringify(contract.identity)}. Mend: name the columns that tell one tracker's readings apart.`,
    );
  }
  return {
    boot: names('boot'),
    seq: names('seq'),
    atUnitMs: at?.kind === 'time' ? timeUnitMs(at) : null,
    repeatsStand: contract.repeats === 'keep',
  };
}

/** Read as a number, so that `007` or `7.0` is told as a matter of form and not as a lost reading. */
const WHOLE = /^\d+(?:\.0*)?$/;

/** How many cells of a row differ from a reading. */
export type Misfit = (cells: readonly string[], reading: Reading) => number;

/** Reads identities out of records and looks them up. One tracker's rows may come in any order. */
export class RowReader {
  readonly #fleet: ReadonlyMap<string, ExpectedTracker>;
  readonly #naming: Naming;
  readonly #misfit: Misfit;
  /** Whose rows they are, where the export doesn't say. */
  readonly #only: string;
  readonly #id: number;
  readonly #boot: number;
  readonly #seq: number;
  readonly #at: number;
  readonly #atForm: Extract<Column['form'], { kind: 'time' }> | undefined;
  readonly #zone: Zone | undefined;

  constructor(contract: Contract, fleet: ReadonlyMap<string, ExpectedTracker>, misfit: Misfit) {
    const inIdentity = new Set(contract.identity);
    const indexOf = (field: string) => {
      const named = contract.columns.findIndex(({ name, field: of }) => of === field && inIdentity.has(name));
      return named >= 0 ? named : contract.columns.findIndex((column) => column.field === field);
    };
    this.#fleet = fleet;
    this.#naming = namingOf(contract);
    this.#misfit = misfit;
    this.#id = indexOf('id');
    const [only] = fleet.keys();
    if (this.#id < 0 && (fleet.size > 1 || only === undefined)) {
      throw new BadInput(
        `contract ${JSON.stringify(contract.title)}: /columns: expected a column with field id, for a fleet of ${fleet.size} trackers, found none. Mend: export the tracker id and name it in the identity.`,
      );
    }
    this.#only = this.#id < 0 ? (only ?? '') : '';
    this.#boot = indexOf('boot');
    this.#seq = indexOf('seq');
    this.#at = indexOf('at');
    const form = contract.columns[this.#at]?.form;
    this.#atForm = form?.kind === 'time' ? form : undefined;
    this.#zone = this.#atForm && new Zone(this.#atForm.zone);
  }

  row({ cells, record, line }: CsvRecord, file: string): Row {
    const trackerId = cells[this.#id] ?? this.#only;
    const boot = wholeNumber(cells[this.#boot]);
    const seq = wholeNumber(cells[this.#seq]);
    const times = this.#atForm && this.#zone ? timesOf(cells[this.#at] ?? '', this.#atForm, this.#zone) : [];
    const tracker = this.#fleet.get(trackerId);
    const atMs = times[0] ?? Number.NaN;
    const naming = this.#naming;
    const readable =
      !(naming.boot && Number.isNaN(boot)) &&
      !(naming.seq && Number.isNaN(seq)) &&
      !(isByTime(naming) && Number.isNaN(atMs));
    return {
      file,
      record,
      line,
      cells,
      trackerId,
      boot,
      seq,
      atMs,
      tracker,
      found: tracker && readable ? this.#find(tracker, boot, seq, times, cells) : undefined,
    };
  }

  /** In a fold of local time a cell means two instants: the reading that fits the row better is taken. */
  #find(
    tracker: ExpectedTracker,
    boot: number,
    seq: number,
    times: readonly number[],
    cells: readonly string[],
  ): Row['found'] {
    let atMs = times[0] ?? Number.NaN;
    if (isByTime(this.#naming) && times.length > 1) {
      let least = Number.POSITIVE_INFINITY;
      for (const candidateMs of times) {
        const waiting = tracker.waitingFor(boot, seq, candidateMs);
        const misfit = waiting ? this.#misfit(cells, waiting.reading) : Number.POSITIVE_INFINITY;
        if (misfit >= least) continue;
        least = misfit;
        atMs = candidateMs;
      }
    }
    return tracker.find(boot, seq, atMs);
  }
}

function isByTime({ boot, seq, atUnitMs }: Naming): boolean {
  return atUnitMs !== null && !(boot && seq);
}

function wholeNumber(cell: string | undefined): number {
  if (cell === undefined || !WHOLE.test(cell)) return Number.NaN;
  const value = Number(cell);
  return Number.isSafeInteger(value) ? value : Number.NaN;
}
