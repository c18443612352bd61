// Options that say where to publish and how fast.
import { isIPv4 } from 'node:net';
import { BadInput, describe, type Pace } from '../../sim/index.ts';
import type { OptionSpec } from './options.ts';

export const BROKER: OptionSpec = {
  name: 'broker',
  value: 'URL',
  about: 'mqtt://host:port of a broker on this machine (loopback)',
};

export const PACE: OptionSpec = {
  name: 'pace',
  value: 'TIMES',
  about: '1 = real time, 60 = sixty times as fast, full = as fast as the broker takes it',
};

/** Host and port of a broker URL. Only loopback: load only what you may load. */
export function loopbackTarget(url: string): { host: string; port: number } {
  const parsed = URL.canParse(url) ? new URL(url) : undefined;
  // Before anything else, so that no message repeats a password.
  if (parsed && (parsed.username !== '' || parsed.password !== '')) {
    throw new BadInput(
      '--broker: expected mqtt://host:port, found a user name or password in it, which is not yet supported. Mend: leave it out, and let the broker on this machine take clients without one.',
    );
  }
  if (parsed?.protocol !== 'mqtt:') {
    throw new BadInput(
      `--broker: expected mqtt://host:port, found ${describe(url)}. Mend: e.g. mqtt://127.0.0.1:1883.`,
    );
  }
  const beyond = `${parsed.pathname}${parsed.search}${parsed.hash}`;
  if (beyond !== '' && beyond !== '/') {
    throw new BadInput(
      `--broker: expected mqtt://host:port alone, found ${describe(beyond)} after it. Mend: leave that out.`,
    );
  }
  const asked = parsed.hostname.toLowerCase();
  const host = asked === 'localhost' ? '127.0.0.1' : asked;
  if (!(isIPv4(host) && host.startsWith('127.')) && host !== '[::1]') {
    throw new BadInput(
      `--broker: expected a loopback address, found ${describe(parsed.hostname)}. Mend: publish to a broker on this machine.`,
    );
  }
  const port = parsed.port === '' ? 1883 : Number(parsed.port);
  if (port === 0) {
    throw new BadInput(
      '--broker: expected a port from 1 to 65535, found 0. Mend: name the port that the broker listens on.',
    );
  }
  return { host: host.replace(/^\[|\]$/g, ''), port };
}

export function paceOf(text: string): Pace {
  if (text === 'full') return 'full';
  const times = /^\d+(?:\.\d+)?$/.test(text) ? Number(text) : Number.NaN;
  if (!(times > 0) || !Number.isFinite(times)) {
    throw new BadInput(
      `--pace: expected a number above 0 or full, found ${describe(text)}. Mend: e.g. --pace 60.`,
    );
  }
  return { times };
}
