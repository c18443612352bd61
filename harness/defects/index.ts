// All deliberate defects, in the order of the way that a reading takes.
import { BadInput, nearestWord } from '../../sim/index.ts';
import { ACK_DEFECTS } from './consumer/acks.ts';
import { BATCH_DEFECTS } from './consumer/batches.ts';
import { FILTER_DEFECTS } from './consumer/filters.ts';
import { TIME_DEFECTS as CONSUMER_TIME_DEFECTS } from './consumer/times.ts';
import type { Defect } from './defect.ts';
import { FILE_DEFECTS } from './export/file.ts';
import { NUMBER_DEFECTS as EXPORT_NUMBER_DEFECTS } from './export/numbers.ts';
import { ORDER_DEFECTS } from './export/order.ts';
import { PAGE_DEFECTS } from './export/pages.ts';
import { QUOTING_DEFECTS } from './export/quoting.ts';
import { TIME_DEFECTS as EXPORT_TIME_DEFECTS } from './export/times.ts';
import { WINDOW_DEFECTS } from './export/windows.ts';
import { TABLE_DEFECTS } from './reader/table.ts';
import { ABSENT_DEFECTS } from './store/absent.ts';
import { KEY_DEFECTS } from './store/keys.ts';
import { NUMBER_DEFECTS } from './store/numbers.ts';
import { TEXT_DEFECTS } from './store/text.ts';
import { TIME_DEFECTS } from './store/times.ts';
import { UNIT_DEFECTS } from './store/units.ts';
import { SESSION_DEFECTS } from './subscription/session.ts';
import { TOPIC_DEFECTS } from './subscription/topics.ts';

export type { Defect } from './defect.ts';

export const DEFECTS: readonly Defect[] = [
  ...SESSION_DEFECTS,
  ...TOPIC_DEFECTS,
  ...ACK_DEFECTS,
  ...BATCH_DEFECTS,
  ...FILTER_DEFECTS,
  ...CONSUMER_TIME_DEFECTS,
  ...KEY_DEFECTS,
  ...TEXT_DEFECTS,
  ...TIME_DEFECTS,
  ...NUMBER_DEFECTS,
  ...UNIT_DEFECTS,
  ...ABSENT_DEFECTS,
  ...WINDOW_DEFECTS,
  ...PAGE_DEFECTS,
  ...ORDER_DEFECTS,
  ...EXPORT_TIME_DEFECTS,
  ...EXPORT_NUMBER_DEFECTS,
  ...QUOTING_DEFECTS,
  ...FILE_DEFECTS,
  ...TABLE_DEFECTS,
];

/** Throws BadInput where there is none of that name. */
export function defectNamed(name: string): Defect {
  const found = DEFECTS.find((defect) => defect.name === name);
  if (found !== undefined) return found;
  const near = nearestWord(
    name,
    DEFECTS.map((defect) => defect.name),
  );
  const mend = near === undefined ? 'see `wayproof defects` for all of them' : `did you mean ${near}?`;
  throw new BadInput(`defect: expected the name of a defect, found ${name}. Mend: ${mend}`);
}
