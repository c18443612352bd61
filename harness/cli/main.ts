#!/usr/bin/env node
// Entry of the command line: picks the command, and turns every end into an exit code.
import { BadInput, nearestWord, NotCompleted } from '../../sim/index.ts';
import { check } from './check.ts';
import type { Command, ExitCode } from './command.ts';
import { defects } from './defects.ts';
import { run } from './run.ts';
import { stream } from './stream.ts';
import { complain, print } from './terminal.ts';
import { validate } from './validate.ts';
import { VERSION } from './version.ts';

const COMMANDS: readonly Command[] = [run, stream, check, defects, validate];

async function main(args: readonly string[]): Promise<ExitCode> {
  const [name, ...rest] = args;
  if (name === undefined || name === 'help' || name === '--help' || name === '-h') {
    print(rest[0] === undefined ? help() : commandHelp(commandNamed(rest[0])));
    return 0;
  }
  if (name === '--version') {
    print(VERSION);
    return 0;
  }
  const command = commandNamed(name);
  if (rest.includes('--help')) {
    print(commandHelp(command));
    return 0;
  }
  return command.run(rest);
}

function commandNamed(name: string): Command {
  const command = COMMANDS.find((candidate) => candidate.name === name);
  if (!command) {
    const near = nearestWord(
      name,
      COMMANDS.map((candidate) => candidate.name),
    );
    const mend = near === undefined ? 'see `wayproof help`' : `did you mean ${near}?`;
    throw new BadInput(`command line: expected a command, found ${name}. Mend: ${mend}`);
  }
  return command;
}

function help(): string {
  return [
    'wayproof: know that what left the tracker is what stands in the CSV',
    '',
    ...COMMANDS.map((command) => `  wayproof ${`${command.name} ${command.on}`.padEnd(28)} ${command.about}`),
    '',
    '  wayproof help <command>               its options and examples',
    '',
    'Exit codes: 0 held, nothing broken (what was not seen is named) · 1 something broken · 2 bad input ·',
    '3 could not be completed',
    'Load only systems you may load. Positions are personal data. Not for navigation, safety of life or',
    'regulated cold-chain release; local codes and licensed practice come first.',
  ].join('\n');
}

function commandHelp(command: Command): string {
  return [
    `wayproof ${command.name} ${command.on}`,
    `  ${command.about}`,
    '',
    ...command.options.map(({ name, value, about }) => {
      const left = value === undefined ? `--${name}` : `--${name} ${value}`;
      return `  ${left.padEnd(20)} ${about}`;
    }),
    '',
    'Examples:',
    ...command.examples.map((example) => `  ${example}`),
  ].join('\n');
}

// Once a command answers signals itself, this one keeps still.
process.on('SIGINT', () => {
  if (process.listenerCount('SIGINT') > 1) return;
  complain('not completed: interrupted before anything was proven');
  process.exit(3);
});
// A reader that closes the pipe has seen enough; a full disk behind it is told.
process.stdout.on('error', (error: NodeJS.ErrnoException) => {
  if (error.code === 'EPIPE') return;
  complain(`not completed: the report couldn't be written: ${error.code ?? error.message}`);
  process.exit(3);
});
process.on('uncaughtException', (error) => process.exit(explain(error)));

try {
  process.exitCode = await main(process.argv.slice(2));
} catch (error) {
  process.exitCode = explain(error);
}

function explain(error: unknown): ExitCode {
  if (error instanceof BadInput) {
    for (const line of [error.message, ...error.also]) complain(line);
    return 2;
  }
  if (error instanceof NotCompleted) {
    complain(`not completed: ${error.message}`);
    return 3;
  }
  const words =
    error instanceof Error
      ? process.env['WAYPROOF_TRACE'] === '1'
        ? error.stack
        : error.message
      : String(error);
  complain(`not completed: a fault inside wayproof: ${words} (WAYPROOF_TRACE=1 shows where)`);
  return 3;
}
