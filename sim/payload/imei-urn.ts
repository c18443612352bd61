// The IMEI as a URN (RFC 7254), and back: urn:gsma:imei:TAC(8)-SNR(6)-spare(1).
// The last digit of the URN is the spare digit, which is 0; the 15th digit that is printed on a device is a
// Luhn check digit, which isn't transmitted. So it is dropped on the way out and computed again on the way in.
import { BadInput } from '../errors.ts';
import { imeiUrn, luhnDigit } from '../tracker/identity.ts';
import { ID_TEXT } from './wire.ts';

const URN = /^urn:gsma:imei:(\d{8})-(\d{6})-0$/;

/** The URN of a 15-digit IMEI. Throws BadInput where the check digit is wrong, as the URN can't carry it. */
export function urnOfImei(id: string): string {
  if (!ID_TEXT.test(id) || Number(id[14]) !== luhnDigit(id.slice(0, 14))) {
    throw new BadInput(
      `tracker id ${JSON.stringify(id)}: expected 15 digits with a Luhn check digit, as SenML names carry an IMEI without it. Mend: use an IMEI of a test range, or payload plain.`,
    );
  }
  return imeiUrn(id);
}

/** The 15-digit IMEI of a URN; undefined where the text isn't the URN of an IMEI. */
export function imeiOfUrn(urn: string): string | undefined {
  const part = URN.exec(urn);
  if (part === null) return undefined;
  const digits = `${part[1]}${part[2]}`;
  return `${digits}${luhnDigit(digits)}`;
}
