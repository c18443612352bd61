// Who a tracker is. All numbers are text: test IMEIs start with 0, and an ICCID exceeds 2^53.
// IMEI: 3GPP TS 23.003 clause 6 and Annex B; ICCID: ITU-T E.118; URN: RFC 7254.
import { BadInput } from '../errors.ts';
import { randomStream, type RandomStream } from '../random.ts';

export interface Identity {
  /** 15 digits, from the reserved test range. */
  readonly imei: string;
  /** 19 digits: 18 and the check digit. The issuer is fictional. */
  readonly iccid: string;
  /** PIN of the SIM, 4 digits. */
  readonly pin: string;
  /** PUK of the SIM, 8 digits. */
  readonly puk: string;
  /** PIN with which the owner claims the tracker, 4 digits. */
  readonly claimPin: string;
}

/** Reporting body 00 assigns no type: TACs that begin with 001 are for tests. */
const FIRST_TEST_TAC = 101_000;
const TEST_TACS = 1000;
const SERIALS_PER_TAC = 1_000_000;
/** Telecommunications (89), test country code 999, fictional issuer 01. */
const ICCID_ISSUER = '8999901';
const ICCID_ACCOUNT_DIGITS = 11;

/** The identity of tracker `index` of the fleet. Two indices never share an IMEI or an ICCID. */
export function identityOf(seed: string, index: number): Identity {
  const ownImei = imei(index);
  // One stream for all secrets, for speed: a new one is drawn last, so that the others stay as they are.
  const random = randomStream(seed, 'tracker', ownImei, 'secrets');
  return {
    imei: ownImei,
    iccid: iccid(index),
    pin: secret(random, 4),
    puk: secret(random, 8),
    claimPin: secret(random, 4),
  };
}

function secret(random: RandomStream, digits: number): string {
  return String(random.below(10 ** digits)).padStart(digits, '0');
}

/** Luhn check digit of a string of digits (ISO/IEC 7812-1 Annex B; 3GPP TS 23.003 Annex B). */
export function luhnDigit(digits: string): number {
  let sum = 0;
  for (let i = 0; i < digits.length; i++) {
    const digit = digits.charCodeAt(i) - 48;
    // Every second digit is doubled, counted from the last, which stands next to the check digit.
    const weighted = (digits.length - i) % 2 === 1 ? 2 * digit : digit;
    sum += weighted > 9 ? weighted - 9 : weighted;
  }
  return (10 - (sum % 10)) % 10;
}

/** IMEI of tracker `index`, 0 … 10^9 - 1: TAC (8), serial number (6), check digit (1). Throws BadInput beyond. */
export function imei(index: number): string {
  if (!Number.isInteger(index) || index < 0 || index >= TEST_TACS * SERIALS_PER_TAC) {
    throw new BadInput(
      `expected a tracker index from 0 to ${TEST_TACS * SERIALS_PER_TAC - 1}, found ${index}. Mend: make the fleet smaller.`,
    );
  }
  const tac = String(FIRST_TEST_TAC + Math.floor(index / SERIALS_PER_TAC)).padStart(8, '0');
  const body = tac + String(index % SERIALS_PER_TAC).padStart(6, '0');
  return body + luhnDigit(body);
}

/** ICCID of the SIM in tracker `index`: 18 digits and the check digit. */
export function iccid(index: number): string {
  const body = ICCID_ISSUER + String(index).padStart(ICCID_ACCOUNT_DIGITS, '0');
  return body + luhnDigit(body);
}

/** `urn:gsma:imei:TAC-SNR-0` (RFC 7254). The last digit is the spare digit 0, never the check digit. */
export function imeiUrn(of: string): string {
  return `urn:gsma:imei:${of.slice(0, 8)}-${of.slice(8, 14)}-0`;
}

/** The 10 bytes a SIM keeps its ICCID in: BCD, low nibble first, filled up with F (ETSI TS 102 221 clause 13.2). */
export function iccidToBcd(of: string): Uint8Array {
  const bytes = new Uint8Array(10);
  const nibbles = of.padEnd(20, 'F');
  for (let i = 0; i < 10; i++) {
    bytes[i] = Number.parseInt(`${nibbles[2 * i + 1]}${nibbles[2 * i]}`, 16);
  }
  return bytes;
}

/** The number as printed on the SIM: 18 digits in three groups of six, without the check digit. */
export function iccidPrint(of: string): string {
  return `${of.slice(0, 6)} ${of.slice(6, 12)} ${of.slice(12, 18)}`;
}

export interface IccidLabel {
  /** 18, 19 or 20 digits, spaces dropped, leading zeros kept. */
  readonly digits: string;
  /** 18 digits may lack the check digit, so they are never checked. */
  readonly checkDigit: 'unchecked' | 'holds' | 'fails';
}

/** Reads the SIM number off a label. Throws BadInput where it isn't 18, 19 or 20 digits, spaces allowed. */
export function parseIccidLabel(text: string): IccidLabel {
  const digits = text.replaceAll(/\s/g, '');
  if (!/^\d{18,20}$/.test(digits)) {
    throw new BadInput(
      `expected a SIM number of 18, 19 or 20 digits, found ${JSON.stringify(text)}. Mend: copy it from the SIM again.`,
    );
  }
  if (digits.length === 18) return { digits, checkDigit: 'unchecked' };
  const holds = luhnDigit(digits.slice(0, -1)) === Number(digits.at(-1));
  return { digits, checkDigit: holds ? 'holds' : 'fails' };
}

const PIN_TRIES = 3;
const PUK_TRIES = 10;
/** Status words of ETSI TS 102 221 clause 10.2: done; authentication method blocked; wrong, n tries left. */
const DONE = '9000';
const BLOCKED = '6983';
const triesLeft = (n: number) => `63C${n.toString(16).toUpperCase()}`;

/** The SIM's PIN and PUK with their try counters (ETSI TS 102 221 clauses 9.5.1, 11.1.9, 11.1.13). */
export class SimCard {
  #pin: string;
  readonly #puk: string;
  #pinTries = PIN_TRIES;
  #pukTries = PUK_TRIES;

  constructor(simPin: string, simPuk: string) {
    this.#pin = simPin;
    this.#puk = simPuk;
  }

  /** `needs-puk`: three wrong PINs; `dead`: ten wrong PUKs, for good. */
  get state(): 'usable' | 'needs-puk' | 'dead' {
    if (this.#pukTries === 0) return 'dead';
    return this.#pinTries === 0 ? 'needs-puk' : 'usable';
  }

  /** VERIFY PIN. Status word: 9000, 63C2, 63C1, 63C0 (now blocked), then 6983 whatever is tried. */
  verifyPin(tried: string): string {
    if (this.state !== 'usable') return BLOCKED;
    if (tried === this.#pin) {
      this.#pinTries = PIN_TRIES;
      return DONE;
    }
    this.#pinTries -= 1;
    return triesLeft(this.#pinTries);
  }

  /** UNBLOCK PIN. Status word: 9000 (both counters start again), 63C9 … 63C0 (dead for good), then 6983. */
  unblockPin(tried: string, newPin: string): string {
    if (this.#pukTries === 0) return BLOCKED;
    if (tried === this.#puk) {
      this.#pin = newPin;
      this.#pinTries = PIN_TRIES;
      this.#pukTries = PUK_TRIES;
      return DONE;
    }
    this.#pukTries -= 1;
    return triesLeft(this.#pukTries);
  }
}
