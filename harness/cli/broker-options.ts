// Options that say where to publish and how fast.
import { BadInput, type Pace } from '../../sim/index.ts';
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
  if (parsed?.protocol !== 'mqtt:') {
    throw new BadInput(
      `--broker: expected mqtt://host:port, found ${url}. Mend: e.g. mqtt://127.0.0.1:1883.`,
    );
  }
  const host = parsed.hostname === 'localhost' ? '127.0.0.1' : parsed.hostname;
  if (!/^127(?:\.\d+){3}$/.test(host) && host !== '[::1]') {
    throw new BadInput(
      `--broker: expected a loopback address, found ${host}. Mend: publish to a broker on this machine.`,
    );
  }
  return { host: host.replace(/^\[|\]$/g, ''), port: parsed.port === '' ? 1883 : Number(parsed.port) };
}

export function paceOf(text: string): Pace {
  if (text === 'full') return 'full';
  const times = Number(text);
  if (!(times > 0) || !Number.isFinite(times)) {
    throw new BadInput(`--pace: expected a number above 0 or full, found ${text}. Mend: e.g. --pace 60.`);
  }
  return { times };
}
