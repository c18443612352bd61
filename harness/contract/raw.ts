// Made from contract.schema.json by `npm run types`; don't edit.

/**
 * Name of a column (rising), or a column with its direction.
 */
export type OrderKey =
  | string
  | {
      /**
       * Name of a column.
       */
      column: string;
      direction?: 'rising' | 'falling';
    };

/**
 * A contract file: what a pipeline promises of its export. A key left out takes the default that stands beside it.
 */
export interface RawContract {
  /**
   * Says what this file is. Comes first.
   */
  wayproof: 'contract/1';
  /**
   * One line.
   */
  title: string;
  /**
   * The columns of the export, in order.
   */
  columns: Column[];
  /**
   * Columns that together tell readings apart.
   */
  identity: string[];
  /**
   * What becomes of a reading that arrives twice: one row, or a row each time.
   */
  repeats?: 'collapse' | 'keep';
  /**
   * Order of the rows in one export; empty where nothing is promised.
   */
  order?: OrderKey[];
  /**
   * Order of one tracker's readings in the export.
   */
  perTracker?: 'measured' | 'arrival' | 'none';
  /**
   * Exports hold the rows of a window: its start is in, its end is not.
   */
  window?: {
    /**
     * Time column that the window goes by. Left out = the first time column.
     */
    column?: string;
  };
  /**
   * Readings that arrive later than this after they were measured may be refused. Left out = all are taken.
   */
  lateness?: string;
  csv?: Csv;
  /**
   * Largest real time from emission to stored. Left out = not promised.
   */
  delay?: string;
}
/**
 * One column.
 */
export interface Column {
  /**
   * Name in the header.
   */
  name: string;
  /**
   * Field of a reading. Left out = a column of the pipeline's own, which isn't judged.
   */
  field?: string;
  /**
   * How an absent value is written. Left out = an empty cell. Only where the field can be absent.
   */
  nullAs?: string;
  /**
   * Number fields only: cell = value in the field's unit × factor; not 0. Left out = 1.
   */
  factor?: number;
  /**
   * Number fields only: largest difference allowed, in the column's unit. Left out = 0: equal at the field's own resolution.
   */
  within?: number;
  /**
   * Number fields only: digits after the point that every cell has. Left out = any number.
   */
  decimals?: number;
  /**
   * Time fields only. rfc3339: with its offset. local: YYYY-MM-DD HH:MM:SS in the zone. epoch-ms, epoch-s: counted from 1970 in UTC. Left out = rfc3339.
   */
  as?: 'rfc3339' | 'local' | 'epoch-ms' | 'epoch-s';
  /**
   * Time fields only: IANA name of the promised zone. Left out = UTC.
   */
  zone?: string;
  /**
   * Time fields only: digits of the second after the point. Left out = 3.
   */
  secondDecimals?: number;
}
/**
 * How the file is written.
 */
export interface Csv {
  /**
   * one ASCII sign that is neither a letter, a digit nor a double quote, such as , or ;
   */
  delimiter?: string;
  /**
   * What ends a record.
   */
  lineEnd?: 'crlf' | 'lf' | 'either';
  /**
   * Whether the first record names the columns.
   */
  header?: boolean;
  /**
   * Whether the file starts with U+FEFF.
   */
  byteOrderMark?: 'none' | 'required' | 'either';
  /**
   * Text that starts with = + - @ is written with this in front; empty = unchanged.
   */
  formulaGuard?: string;
}
