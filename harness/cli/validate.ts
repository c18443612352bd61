// wayproof validate: is a scenario or contract file right, and what does it come to?
import {
  fleetEvents,
  oneLine,
  readScenario,
  readText,
  resolvedText,
  rosterOf,
  streamDigest,
} from '../../sim/index.ts';
import { readContract } from '../contract/read-contract.ts';
import { many } from '../report/lines.ts';
import type { Command } from './command.ts';
import { JSON_OUT, onlyPositional, readWords, SEED } from './options.ts';
import { print } from './terminal.ts';

const OPTIONS = [SEED, { ...JSON_OUT, about: 'the file with every default filled in, as JSON' }];

export const validate: Command = {
  name: 'validate',
  on: '<file>',
  about: 'is this scenario or contract right?',
  options: OPTIONS,
  examples: ['wayproof validate scenarios/quiet-day.yaml', 'wayproof validate my-contract.yaml --json'],
  async run(args) {
    const words = readWords(args, OPTIONS);
    const file = onlyPositional(words, 'a scenario or contract file');
    print(
      isContract(file)
        ? contractReport(file, words.on('json'))
        : scenarioReport(file, words.text('seed'), words.on('json')),
    );
    return 0;
  },
};

/** By the first key that says so; a file that can't be read is told by the scenario reader. */
function isContract(file: string): boolean {
  try {
    return /^\s*["']?wayproof["']?\s*:\s*["']?contract\//m.test(readText(file));
  } catch {
    return false;
  }
}

function scenarioReport(file: string, seed: string | undefined, json: boolean): string {
  const scenario = readScenario(file, seed === undefined ? {} : { seed });
  if (json) return resolvedText(scenario);
  const roster = rosterOf(scenario);
  return [
    `${file}: a scenario, and right: ${oneLine(scenario.title)}`,
    `  ${many(roster.length, 'tracker')} in ${many(scenario.groups.length, 'group')}, ${many(scenario.faults.length, 'fault')}, seed ${oneLine(scenario.seed)}`,
    `  digest of everything the trackers send: ${streamDigest(fleetEvents(scenario))}`,
  ].join('\n');
}

function contractReport(file: string, json: boolean): string {
  const contract = readContract(file);
  if (json) return JSON.stringify(contract, undefined, 2);
  return [
    `${file}: a contract, and right: ${oneLine(contract.title)}`,
    `  ${many(contract.columns.length, 'column')}; readings told apart by ${contract.identity.map(oneLine).join(', ')}`,
  ].join('\n');
}
