// The seam of all commands.
import type { OptionSpec } from './options.ts';

/** 0 held, with nothing broken (checks that weren't seen are named); 1 something broken; 2 bad input; 3 could not be completed. */
export type ExitCode = 0 | 1 | 2 | 3;

export interface Command {
  readonly name: string;
  /** What it works on, for the help text, e.g. `<scenario>`. */
  readonly on: string;
  readonly about: string;
  readonly options: readonly OptionSpec[];
  readonly examples: readonly string[];
  run(args: readonly string[]): Promise<ExitCode>;
}
