import * as fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { BadInput } from '../../sim/errors.ts';
import {
  iccid,
  iccidPrint,
  identityOf,
  imei,
  luhnDigit,
  parseIccidLabel,
} from '../../sim/tracker/identity.ts';

const INDEX = fc.integer({ min: 0, max: 999_999_999 });

describe('identityOf', () => {
  it('gives text of the right lengths, with valid check digits', () => {
    fc.assert(
      fc.property(fc.string(), INDEX, (seed, index) => {
        const who = identityOf(seed, index);
        expect(who.imei).toMatch(/^001\d{12}$/);
        expect(who.iccid).toMatch(/^8999901\d{12}$/);
        expect(who.pin).toMatch(/^\d{4}$/);
        expect(who.puk).toMatch(/^\d{8}$/);
        expect(who.claimPin).toMatch(/^\d{4}$/);
        for (const number of [who.imei, who.iccid]) {
          expect(luhnDigit(number.slice(0, -1))).toBe(Number(number.at(-1)));
        }
      }),
      { seed: 1 },
    );
  });

  it('never gives two trackers one number', () => {
    fc.assert(
      fc.property(INDEX, INDEX, (a, b) => {
        fc.pre(a !== b);
        expect(imei(a)).not.toBe(imei(b));
        expect(iccid(a)).not.toBe(iccid(b));
      }),
      { seed: 2 },
    );
    expect(imei(999_999).slice(0, 14)).toBe('00101000999999');
    expect(imei(1_000_000).slice(0, 14)).toBe('00101001000000');
  });

  it('depends on the seed for the secrets alone', () => {
    const [a, b] = [identityOf('a', 7), identityOf('b', 7)];
    expect(a).toEqual(identityOf('a', 7));
    expect([a.imei, a.iccid]).toEqual([b.imei, b.iccid]);
    expect([a.pin, a.puk, a.claimPin]).not.toEqual([b.pin, b.puk, b.claimPin]);
  });

  it('keeps leading zeros of the secrets', () => {
    const pins = Array.from({ length: 200 }, (_, index) => identityOf('zeros', index).pin);
    expect(pins.some((text) => text.startsWith('0'))).toBe(true);
  });

  it.each([-1, 1.5, 1_000_000_000])('refuses index %d', (index) => {
    expect(() => imei(index)).toThrow(BadInput);
  });
});

describe('parseIccidLabel', () => {
  it('reads back what is printed', () => {
    fc.assert(
      fc.property(INDEX, (index) => {
        const number = iccid(index);
        const print = iccidPrint(number);
        expect(print).toMatch(/^\d{6} \d{6} \d{6}$/);
        expect(parseIccidLabel(print).digits).toBe(number.slice(0, 18));
        expect(parseIccidLabel(number)).toEqual({ digits: number, checkDigit: 'holds' });
      }),
      { seed: 3 },
    );
  });

  it('accepts 20 digits', () => {
    const body = '8999901000000123456';
    expect(parseIccidLabel(body + luhnDigit(body)).checkDigit).toBe('holds');
  });

  it.each(['', '12345678901234567', '123456789012345678901', '89999010000001234x'])(
    'refuses %j in one line that says how to mend it',
    (text) => {
      expect(() => parseIccidLabel(text)).toThrow(/^expected .* found .* Mend: [^\n]*$/);
      expect(() => parseIccidLabel(text)).toThrow(BadInput);
    },
  );
});
