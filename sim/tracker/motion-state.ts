// What is true of a tracker's movement at one moment, before any receiver has looked at it.

export interface MotionState {
  /** [-180, 180) */
  readonly lonDeg: number;
  readonly latDeg: number;
  /** Height above the sea, metres. */
  readonly altM: number;
  readonly speedMps: number;
  /** Clockwise from north, [0, 360); while standing, the course held before. */
  readonly courseDeg: number;
  readonly moving: boolean;
}

export interface Motion {
  /**
   * The state at a virtual time, Unix ms. Times never decrease from call to call.
   * The path doesn't depend on which times are asked for.
   */
  at(tMs: number): MotionState;
}
