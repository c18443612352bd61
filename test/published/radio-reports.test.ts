// Report mapping against 3GPP TS 36.133 clauses 9.1.4 and 9.1.7, and TS 27.007 for "unknown".
import { describe, expect, it } from 'vitest';
import { rsrpIndex, rsrqIndex } from '../../sim/tracker/radio-reports.ts';

describe('RSRP', () => {
  it.each([
    [-140.1, 0],
    [-140, 1],
    [-139.1, 1],
    [-139, 2],
    [-100, 41],
    [-95.2, 45],
    [-45, 96],
    [-44.1, 96],
    [-44, 97],
    [-20, 97],
    [-200, 0],
    [null, 255],
  ])('%s dBm is reported as %i', (rsrpDbm, index) => {
    expect(rsrpIndex(rsrpDbm)).toBe(index);
  });
});

describe('RSRQ', () => {
  it.each([
    [-19.6, 0],
    [-19.5, 1],
    [-19.1, 1],
    [-19, 2],
    [-10.5, 19],
    [-3.5, 33],
    [-3.1, 33],
    [-3, 34],
    [0, 34],
    [-40, 0],
    [null, 255],
  ])('%s dB is reported as %i', (rsrqDb, index) => {
    expect(rsrqIndex(rsrqDb)).toBe(index);
  });
});
