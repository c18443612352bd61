// What instant a cell of time means, read as strictly or as kindly as asked.
import { parseUtc } from '../../sim/index.ts';
import { timesOf, timeUnitMs } from '../checks/cell.ts';
import { Zone } from '../checks/zone.ts';
import type { CellInstance } from './instances.ts';

const zones = new Map<string, Zone>();

export function zoneOf(name: string): Zone {
  let zone = zones.get(name);
  if (!zone) {
    zone = new Zone(name);
    zones.set(name, zone);
  }
  return zone;
}

/** The instant a cell means, ms. `strictly`: in the promised form only. */
export function foundMs(
  { cell, column }: CellInstance,
  how: 'strictly' | 'kindly' = 'kindly',
): number | undefined {
  if (column.form.kind !== 'time') return undefined;
  const [atMs] = timesOf(cell, column.form, zoneOf(column.form.zone));
  return atMs ?? (how === 'kindly' ? kindly(cell) : undefined);
}

const apart = new WeakMap<CellInstance, number>();

const LOOSE = /^(\d{4}-\d\d-\d\d)[T ](\d\d:\d\d)(:\d\d(?:\.\d{1,9})?)?\s?(Z|[-+]\d\d(?::?\d\d)?)?$/i;

/** Times that differ from RFC 3339 in small things: a space, no seconds, no offset, which is then UTC. */
function kindly(cell: string): number | undefined {
  const match = LOOSE.exec(cell.trim());
  if (!match) return /^\d{4}-\d\d-\d\d$/.test(cell) ? parseUtc(`${cell}T00:00:00Z`) : undefined;
  const offset = match[4] ?? 'Z';
  const full = /^[-+]\d\d$/.test(offset) ? `${offset}:00` : offset.replace(/^([-+]\d\d)(\d\d)$/, '$1:$2');
  return parseUtc(`${match[1]}T${match[2]}${match[3] ?? ':00'}${full}`);
}

/** Resolution that the column promises, ms. */
export function unitMsOf({ column }: CellInstance): number {
  return column.form.kind === 'time' ? timeUnitMs(column.form) : 1;
}

/** Found minus expected at the column's resolution, ms; undefined where the cell can't be read. */
export function apartMs(cell: CellInstance): number | undefined {
  // Asked by many hypotheses of the same cells.
  let ms = apart.get(cell);
  if (ms === undefined) {
    const unitMs = unitMsOf(cell);
    ms = (foundMs(cell) ?? Number.NaN) - Math.floor(cell.reading.atMs / unitMs) * unitMs;
    apart.set(cell, ms);
  }
  return Number.isNaN(ms) ? undefined : ms;
}
