// Command-line words, read once. Wrong ones are bad input like any other.
import { parseArgs } from 'node:util';
import { BadInput, describe, oneLine } from '../../sim/index.ts';

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
  let read;
  try {
    read = parseArgs({ args: [...args], options, allowPositionals: true, strict: true, tokens: true });
  } catch (error) {
    throw new BadInput(`command line: ${whyWrong((error as Error).message, specs)}`);
  }
  const { values, positionals, tokens } = read;
  const seen = new Set<string>();
  for (const token of tokens) {
    if (token.kind !== 'option') continue;
    if (seen.has(token.name)) {
      throw new BadInput(`--${token.name}: expected it once, found it again. Mend: leave one out.`);
    }
    seen.add(token.name);
    if (token.value === '') {
      throw new BadInput(
        `--${token.name}: expected a value, found an empty one. Mend: give one, or leave --${token.name} out.`,
      );
    }
  }
  return {
    positionals,
    text: (name) => (typeof values[name] === 'string' ? values[name] : undefined),
    on: (name) => values[name] === true,
  };
}

/** The parser's message, of several lines for some mistakes, as one. */
function whyWrong(message: string, specs: readonly OptionSpec[]): string {
  const named = /--[^\s'=]+/.exec(message)?.[0];
  if (named !== undefined && message.includes('ambiguous')) {
    return `expected a value after ${named}, found something that begins with -. Mend: write ${named}=VALUE where the value does.`;
  }
  if (named !== undefined && message.includes('argument missing')) {
    return `expected a value after ${named}, found nothing. Mend: write ${named} VALUE.`;
  }
  if (named !== undefined && message.includes('does not take an argument')) {
    return `expected ${named} alone, found a value with it. Mend: leave the value out.`;
  }
  const [first = ''] = message.split(/\.\s|\n/);
  const known = specs.map((spec) => `--${spec.name}`).join(' ');
  return `${oneLine(first)}. Mend: this command knows ${known === '' ? 'no options' : known}.`;
}

/**
 * A whole number from `from` to `to`, in plain decimal digits.
 * @throws BadInput for anything else; `name` is the option's, without its dashes.
 */
export function wholeNumberOption(name: string, text: string, from: number, to: number): number {
  const value = /^\d{1,15}$/.test(text) ? Number(text) : Number.NaN;
  if (value >= from && value <= to) return value;
  throw new BadInput(
    `--${name}: expected a whole number from ${from} to ${to}, found ${describe(text)}. Mend: write it in decimal digits alone.`,
  );
}

/** A word as a POSIX shell reads it back. */
export function shellWord(text: string): string {
  return /^[\w./:=@%+-]+$/.test(text) ? text : `'${text.replaceAll("'", `'\\''`)}'`;
}

/** An option as it is typed, in the form that a value beginning with - needs too. */
export function optionText(name: string, value: string): string {
  return `--${name}${value.startsWith('-') ? '=' : ' '}${shellWord(value)}`;
}

/** Exactly one thing to work on. */
export function onlyPositional(words: Words, what: string): string {
  const [first, second] = words.positionals;
  if (first === undefined)
    throw new BadInput(`command line: expected ${what}, found nothing. Mend: name one.`);
  if (second !== undefined) {
    throw new BadInput(
      `command line: expected ${what} alone, found ${describe(second)} too. Mend: name one.`,
    );
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
