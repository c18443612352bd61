// Command-line words, read once. Wrong ones are bad input like any other.
import { parseArgs } from 'node:util';
import { BadInput } from '../../sim/index.ts';

export interface OptionSpec {
  readonly name: string;
  /** Name of the value in the help text; undefined for a switch. */
  readonly value?: string;
  readonly about: string;
}

export interface Words {
  readonly positionals: readonly string[];
  text(name: string): string | undefined;
  on(name: string): boolean;
}

export function readWords(args: readonly string[], specs: readonly OptionSpec[]): Words {
  const options = Object.fromEntries(
    specs.map((spec) => [
      spec.name,
      { type: spec.value === undefined ? ('boolean' as const) : ('string' as const) },
    ]),
  );
  try {
    const { values, positionals } = parseArgs({
      args: [...args],
      options,
      allowPositionals: true,
      strict: true,
    });
    return {
      positionals,
      text: (name) => (typeof values[name] === 'string' ? values[name] : undefined),
      on: (name) => values[name] === true,
    };
  } catch (error) {
    const first = (error as Error).message.split('. ')[0] ?? '';
    const known = specs.map((spec) => `--${spec.name}`).join(' ');
    throw new BadInput(
      `command line: ${first}. Mend: this command knows ${known === '' ? 'no options' : known}.`,
    );
  }
}

/** Exactly one thing to work on. */
export function onlyPositional(words: Words, what: string): string {
  const [first, second] = words.positionals;
  if (first === undefined)
    throw new BadInput(`command line: expected ${what}, found nothing. Mend: name one.`);
  if (second !== undefined) {
    throw new BadInput(`command line: expected ${what} alone, found ${second} too. Mend: name one.`);
  }
  return first;
}

export const SEED: OptionSpec = {
  name: 'seed',
  value: 'TEXT',
  about: "another seed than the scenario's own",
};
export const OUT: OptionSpec = {
  name: 'out',
  value: 'FOLDER',
  about: 'where the evidence goes (default: a new folder under runs/)',
};
export const QUIET: OptionSpec = { name: 'quiet', about: 'no progress, and of the report only the verdict' };
export const JSON_OUT: OptionSpec = {
  name: 'json',
  about: 'one JSON document on stdout instead of the report',
};
export const CONTRACT: OptionSpec = {
  name: 'contract',
  value: 'FILE',
  about: "what the pipeline promises (default: the reference pipeline's)",
};
