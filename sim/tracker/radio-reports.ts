// What a modem reports of its radio: 3GPP TS 36.133 clauses 9.1.4 (RSRP) and 9.1.7 (RSRQ).

/** Not known or not detectable, in the AT form of the report (3GPP TS 27.007, +CESQ). */
export const REPORT_UNKNOWN = 255;

/** RSRP_00 (below -140 dBm) … RSRP_97 (-44 dBm and above); 255 for null. */
export function rsrpIndex(rsrpDbm: number | null): number {
  if (rsrpDbm === null) return REPORT_UNKNOWN;
  return Math.min(97, Math.max(0, Math.floor(rsrpDbm) + 141));
}

/** RSRQ_00 (below -19.5 dB) … RSRQ_34 (-3 dB and above); 255 for null. */
export function rsrqIndex(rsrqDb: number | null): number {
  if (rsrqDb === null) return REPORT_UNKNOWN;
  return Math.min(34, Math.max(0, Math.floor(2 * rsrqDb) + 40));
}
