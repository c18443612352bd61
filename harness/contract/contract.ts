// What a pipeline promises of its export. Every default is filled in; read-contract.ts makes it from a file.

/** How a cell is written. */
export type ColumnForm =
  | { readonly kind: 'text' }
  | {
      readonly kind: 'number';
      /** cell = field value × factor. */
      readonly factor: number;
      /** Largest difference allowed, in the column's unit; 0 = equal to the field's own resolution. */
      readonly within: number;
      /** Digits after the point that every cell has, or null where any number is allowed. */
      readonly decimals: number | null;
    }
  | {
      readonly kind: 'time';
      /** `rfc3339`: with offset. `local`: `YYYY-MM-DD HH:MM:SS.mmm` in `zone`. Numbers count from 1970 in UTC. */
      readonly as: 'rfc3339' | 'local' | 'epoch-ms' | 'epoch-s';
      /** IANA name of the promised zone. */
      readonly zone: string;
      /** Digits of the second after the point that are promised, 0 to 3. */
      readonly secondDecimals: number;
    };

export interface Column {
  /** Name in the header. */
  readonly name: string;
  /** Field of a reading (sim/reading.ts), or null for a column of the pipeline's own that isn't judged. */
  readonly field: string | null;
  readonly form: ColumnForm;
  /** How an absent value is written; null where the column can't be absent. */
  readonly nullAs: string | null;
}

export interface OrderKey {
  readonly column: string;
  readonly direction: 'rising' | 'falling';
}

export interface Contract {
  readonly title: string;
  readonly columns: readonly Column[];
  /** Columns that together tell readings apart. */
  readonly identity: readonly string[];
  /** What becomes of a reading that arrives twice. */
  readonly repeats: 'collapse' | 'keep';
  /** Order of the rows in one export; empty where nothing is promised. */
  readonly order: readonly OrderKey[];
  /** Order of one tracker's readings. */
  readonly perTracker: 'measured' | 'arrival' | 'none';
  /** Exports are [from, to) over this column. */
  readonly window: { readonly column: string };
  /** Readings that arrive later than this after they were measured may be refused; Infinity = all are taken. */
  readonly latenessMs: number;
  readonly csv: {
    readonly delimiter: string;
    readonly lineEnd: 'crlf' | 'lf' | 'either';
    readonly header: boolean;
    readonly byteOrderMark: 'none' | 'required' | 'either';
    /** Text starting with = + - @ is written with this in front; empty = unchanged. */
    readonly formulaGuard: string;
  };
  /** Largest delay from emission to stored, ms real time, for the timing check; null = not promised. */
  readonly delayMs: number | null;
}
