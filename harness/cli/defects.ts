// wayproof defects: proof of the checks. Every deliberate defect is caught by its right name, and the sound
// pipeline is held.
import { defectNamed, DEFECTS, type Defect } from '../defects/index.ts';
import { proveDefect, PROVING_GROUND, type Proof } from '../defects/prove.ts';
import { count } from '../report/terminal.ts';
import type { Command, ExitCode } from './command.ts';
import { untilInterrupted } from './interrupt.ts';
import { JSON_OUT, QUIET, readWords, type OptionSpec } from './options.ts';
import { complain, print } from './terminal.ts';
import { BadInput } from '../../sim/index.ts';

const SCENARIO: OptionSpec = {
  name: 'scenario',
  value: 'FILE',
  about: `where to prove them; several with commas between (default: ${PROVING_GROUND})`,
};
const OPTIONS = [SCENARIO, { ...JSON_OUT, about: 'one JSON document on stdout' }, QUIET];

export const defects: Command = {
  name: 'defects',
  on: '[name]',
  about: 'prove the checks: every deliberate defect is caught, no false alarm',
  options: OPTIONS,
  examples: [
    'wayproof defects',
    'wayproof defects single-precision',
    'wayproof defects boot-ignored --scenario scenarios/clock-unset.yaml,scenarios/every-fault.yaml',
  ],
  async run(args) {
    const words = readWords(args, OPTIONS);
    const [name, second] = words.positionals;
    if (second !== undefined) {
      throw new BadInput(
        `command line: expected the name of one defect, found ${second} too. Mend: name one, or none for all.`,
      );
    }
    const chosen: readonly (Defect | null)[] =
      name === undefined ? [null, ...DEFECTS] : [null, defectNamed(name)];
    const scenarios = words.text('scenario')?.split(',') ?? [undefined];
    const json = words.on('json');
    const quiet = words.on('quiet');
    const interrupt = untilInterrupted();
    const proofs: Proof[] = [];
    for (const scenarioFile of scenarios) {
      if (!json && !quiet && scenarioFile !== undefined) print(`\n${scenarioFile}`);
      for (const defect of chosen) {
        if (interrupt.signal.aborted) break;
        const proof = await proveDefect(defect, {
          signal: interrupt.signal,
          ...(scenarioFile === undefined ? {} : { scenarioFile }),
        });
        proofs.push(proof);
        if (!json && !(quiet && isRight(proof))) print(lineOf(proof, defect));
      }
    }
    const cut = interrupt.signal.aborted;
    interrupt.done();
    const counts = countsOf(proofs);
    if (json) print(JSON.stringify({ wayproof: 'defects/1', ...counts, proofs }, undefined, 2));
    else print(totals(counts));
    if (cut) {
      complain(`not completed: interrupted after ${proofs.length} proofs`);
      return 3;
    }
    return exitCode(proofs);
  },
};

interface Counts {
  readonly defects: number;
  readonly caught: number;
  readonly rightCause: number;
  readonly rightHop: number;
  readonly soundRuns: number;
  readonly soundHeld: number;
}

function countsOf(proofs: readonly Proof[]): Counts {
  const damaged = proofs.filter(({ defect }) => defect !== null);
  const sound = proofs.filter(({ defect }) => defect === null);
  return {
    defects: damaged.length,
    caught: damaged.filter(({ caught }) => caught).length,
    rightCause: damaged.filter(({ caught, rightCause }) => caught && rightCause).length,
    rightHop: damaged.filter(isRight).length,
    soundRuns: sound.length,
    soundHeld: sound.filter(({ caught }) => caught).length,
  };
}

function totals(counts: Counts): string {
  return `\n${counts.caught} of ${counts.defects} caught, ${counts.rightCause} by their right cause, ${counts.rightHop} at their right hop; the sound pipeline held in ${counts.soundHeld} of ${counts.soundRuns} runs`;
}

const isRight = ({ caught, rightCause, rightHop }: Proof): boolean => caught && rightCause && rightHop;

function exitCode(proofs: readonly Proof[]): ExitCode {
  return proofs.every(isRight) ? 0 : 1;
}

function lineOf(proof: Proof, defect: Defect | null): string {
  const run = `${count(proof.readings)} readings, ${proof.seconds.toFixed(1)} s`;
  if (defect === null) {
    const state = proof.caught ? 'held' : `FALSE ALARM by ${proof.brokenChecks.join(' ') || proof.outcome}`;
    return `${'sound pipeline'.padEnd(NAME_WIDTH)} ${state} · ${run}`;
  }
  const [main] = defect.breaks;
  const others =
    proof.brokenChecks.length === 0 ? 'nothing broke' : `broken: ${proof.brokenChecks.join(' ')}`;
  const seen = proof.caught ? `caught by ${main}` : `MISSED by ${main} (${others})`;
  return `${defect.name.padEnd(NAME_WIDTH)} ${seen} · ${causeWords(proof, defect)} · ${run}`;
}

const NAME_WIDTH = Math.max(...DEFECTS.map(({ name }) => name.length));

function causeWords({ rightCause, rightHop, causes }: Proof, { cause, hop }: Defect): string {
  if (rightHop) return `${cause} (${hop})`;
  if (rightCause) {
    const placed = causes.filter(({ name }) => name === cause).map((named) => named.hop);
    return `${cause}, PLACED at ${[...new Set(placed)].join(' ')} instead of ${hop}`;
  }
  const named = [...new Set(causes.map(({ name }) => name))];
  return `CAUSE ${cause} not named${named.length === 0 ? '' : `, but ${named.join(' ')}`}`;
}
