// What the models ask of a place. Built from GeoJSON (RFC 7946) by read-place.ts.

/** How much sky the antenna sees. */
export type Sky = 'open' | 'street' | 'window' | 'indoor' | 'tunnel';

/** WGS 84; longitude in [-180, 180), height above the sea in metres. */
export interface Position {
  readonly lonDeg: number;
  readonly latDeg: number;
  readonly altM: number;
}

/** A road or ferry line, measured along its length on the sphere. */
export interface Line {
  readonly id: string;
  readonly points: readonly Position[];
  /** Distance from the start to each point, metres. */
  readonly distancesM: readonly number[];
  readonly lengthM: number;
  /** Speed limit of the line; Infinity where it has none. */
  readonly limitMps: number;
  /** Distances from the start at which vehicles stop, metres, ascending, ends not included. */
  readonly stopsM: readonly number[];
}

/** A closed area. Rings are unwrapped: neighbouring longitudes never differ by more than 180. */
export interface Area {
  readonly id: string;
  readonly ring: readonly { readonly lonDeg: number; readonly latDeg: number }[];
  readonly altM: number;
}

export interface PlaceMap {
  readonly name: string;
  readonly lines: ReadonlyMap<string, Line>;
  readonly areas: ReadonlyMap<string, Area>;
  readonly points: ReadonlyMap<string, Position>;
  /** Sky at a position, or undefined where the map says nothing. */
  skyAt(lonDeg: number, latDeg: number): Sky | undefined;
  /** Median received power at a position before shadowing, dBm, or null in a coverage hole. */
  medianRsrpDbm(lonDeg: number, latDeg: number): number | null;
}
