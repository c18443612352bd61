// Identities against 3GPP TS 23.003, ITU-T E.118, ETSI TS 102 221 and RFC 7254.
import { describe, expect, it } from 'vitest';
import {
  iccid,
  iccidToBcd,
  imei,
  imeiUrn,
  luhnDigit,
  parseIccidLabel,
  SimCard,
} from '../../sim/tracker/identity.ts';

describe('check digit', () => {
  it.each([
    // 3GPP TS 23.003 Annex B.3
    ['26053179311383', 7],
    // Widely printed example, secondary source
    ['49015420323751', 8],
    // Body of the RFC 7254 example; computed from Annex B
    ['90420156025763', 7],
    // ISO/IEC 7812-1 Annex B example number 7992739871, secondary source
    ['7992739871', 3],
  ])('%s takes %i', (digits, check) => {
    expect(luhnDigit(digits)).toBe(check);
  });

  it('is blind to one swap, 09 for 90, as ISO/IEC 7812 has it', () => {
    expect(luhnDigit('09')).toBe(luhnDigit('90'));
    expect(luhnDigit('18')).not.toBe(luhnDigit('81'));
  });
});

describe('IMEI', () => {
  it('lies in the reserved test range of reporting body 00', () => {
    // TAC prefix 001: GSMA TS.06, test IMEIs (secondary source); check digit computed from Annex B.
    expect(imei(1)).toBe('001010000000016');
    expect(imei(0)).toMatch(/^001\d{12}$/);
    expect(imei(999_999_999)).toMatch(/^001\d{12}$/);
  });

  it('as a URN ends in the spare digit 0, not in the check digit', () => {
    // RFC 7254; example of 3GPP TS 23.003 clause 13.8. Its check digit would be 7.
    expect(imeiUrn('904201560257637')).toBe('urn:gsma:imei:90420156-025763-0');
  });
});

describe('ICCID', () => {
  it('is 89, country, issuer, account and a check digit', () => {
    // Computed from ITU-T E.118 with a fictional issuer
    expect(iccid(12_345)).toBe('8999901000000123450');
    expect(iccid(1)).toBe('8999901000000000013');
  });

  it('is kept on the SIM as swapped BCD filled with F', () => {
    // ETSI TS 102 221 clause 13.2 (from memory)
    expect(Buffer.from(iccidToBcd('8999901000000123450')).toString('hex')).toBe('989909010000103254f0');
    expect(Buffer.from(iccidToBcd('89999010000001234503')).toString('hex')).toBe('98990901000010325430');
  });

  it('is never checked when the label shows 18 digits: the check digit may be off it', () => {
    expect(parseIccidLabel('899990 100000 012345')).toEqual({
      digits: '899990100000012345',
      checkDigit: 'unchecked',
    });
    expect(parseIccidLabel('8999901000000123450').checkDigit).toBe('holds');
    expect(parseIccidLabel('8999901000000123451').checkDigit).toBe('fails');
  });
});

describe('PIN and PUK', () => {
  // Status words: ETSI TS 102 221 clauses 11.1.9 and 11.1.13
  it('blocks the PIN after three wrong tries', () => {
    const card = new SimCard('0123', '00000042');
    expect(['9', '9', '9', '0123'].map((tried) => card.verifyPin(tried))).toEqual([
      '63C2',
      '63C1',
      '63C0',
      '6983',
    ]);
    expect(card.state).toBe('needs-puk');
  });

  it('counts again from three after a right PIN', () => {
    const card = new SimCard('0123', '00000042');
    expect(['9', '9', '0123', '9'].map((tried) => card.verifyPin(tried))).toEqual([
      '63C2',
      '63C1',
      '9000',
      '63C2',
    ]);
  });

  it('dies for good after ten wrong PUKs', () => {
    const card = new SimCard('0123', '00000042');
    const words = Array.from({ length: 11 }, () => card.unblockPin('11111111', '1'));
    expect(words).toEqual([
      '63C9',
      '63C8',
      '63C7',
      '63C6',
      '63C5',
      '63C4',
      '63C3',
      '63C2',
      '63C1',
      '63C0',
      '6983',
    ]);
    expect(card.state).toBe('dead');
    expect(card.unblockPin('00000042', '1')).toBe('6983');
    expect(card.verifyPin('0123')).toBe('6983');
  });

  it('takes a new PIN with the right PUK, and both counters start again', () => {
    const card = new SimCard('0123', '00000042');
    for (let i = 0; i < 3; i++) card.verifyPin('9');
    expect(card.unblockPin('42', '7')).toBe('63C9');
    expect(card.unblockPin('00000042', '7777')).toBe('9000');
    expect(card.state).toBe('usable');
    expect(card.verifyPin('0123')).toBe('63C2');
    expect(card.verifyPin('7777')).toBe('9000');
    expect(card.unblockPin('1', '1')).toBe('63C9');
  });
});
