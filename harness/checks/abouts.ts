// Every check's own declaration, for whoever lists them: the documentation is made from this.
import { defaultContract } from '../contract/read-contract.ts';
import type { CheckAbout } from './check.ts';
import { Header, WellFormed } from './csv.ts';
import { BatchesWhole, Complete, NoRepeats, NothingInvented } from './ingest.ts';
import { RowsSorted, TrackerOrder } from './ordering.ts';
import { PayloadsValid } from './payloads.ts';
import { REJECTS } from './rejects.ts';
import { NO_ROW_EVIDENCE, RowInstances } from './row-instances.ts';
import { RowsValid } from './schema.ts';
import { BROKER_KEEPS, BROKER_ORDER } from './transit.ts';
import { VALUE_ABOUTS } from './values.ts';
import { ORDER_STABLE, WINDOW_EXACT } from './window.ts';

/** In the order of the report. */
export function allAbouts(): CheckAbout[] {
  const contract = defaultContract();
  const instances = new RowInstances(contract, [], NO_ROW_EVIDENCE);
  return [
    BROKER_KEEPS,
    BROKER_ORDER,
    new PayloadsValid().about,
    REJECTS,
    new Complete().about,
    new NothingInvented(instances).about,
    new NoRepeats(contract, instances).about,
    new BatchesWhole(contract).about,
    new RowsSorted(contract, instances).about,
    new TrackerOrder(contract, instances).about,
    new RowsValid(contract).about,
    new WellFormed(contract).about,
    ...VALUE_ABOUTS,
    new Header(contract).about,
    WINDOW_EXACT,
    ORDER_STABLE,
  ];
}
