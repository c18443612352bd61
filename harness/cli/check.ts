// wayproof check: judge a CSV export that already exists, or a run's evidence again.
import { existsSync, statSync } from 'node:fs';
import { BadInput, fleetEvents, readScenario, rosterOf, streamDigest } from '../../sim/index.ts';
import { judgeExport } from '../checks/judge.ts';
import { checkBrokerKeeps, checkBrokerOrder } from '../checks/transit.ts';
import { defaultContract, readContract } from '../contract/read-contract.ts';
import { DUE_ON_TRUST } from '../expected/due.ts';
import { count, terminalChecks } from '../report/terminal.ts';
import { runFolder } from '../run/folder.ts';
import { judgeRun, readRun } from '../run/judge-run.ts';
import { wholePeriod } from '../run/windows.ts';
import { fold } from '../verdict/verdict.ts';
import type { Command, ExitCode } from './command.ts';
import { CONTRACT, JSON_OUT, onlyPositional, QUIET, readWords, SEED, type OptionSpec } from './options.ts';
import { exitCodeOf, resultOf, tell } from './run.ts';
import { print, Progress, style } from './terminal.ts';

const EXPORT: OptionSpec = { name: 'export', value: 'FILE', about: 'the CSV export to judge' };
const OPTIONS = [EXPORT, SEED, CONTRACT, JSON_OUT, QUIET];

export const check: Command = {
  name: 'check',
  on: '<scenario|run>',
  about: 'judge a CSV export that exists, or the evidence of a run again',
  options: OPTIONS,
  examples: [
    'wayproof check scenarios/quiet-day.yaml --export export.csv --contract my-contract.yaml',
    'wayproof check runs/quiet-day',
  ],
  async run(args) {
    const words = readWords(args, OPTIONS);
    const on = onlyPositional(words, 'a scenario file or the folder of a run');
    const progress = new Progress(words.on('quiet'));
    const onRows = (rows: number) => progress.show(() => `judging · ${count(rows)} rows compared`);
    const file = words.text('export');
    if (!existsSync(on)) {
      throw new BadInput(
        `${on}: expected a scenario file or the folder of a run, found nothing there. Mend: check the name.`,
      );
    }
    if (isFolder(on)) {
      if (file !== undefined) {
        throw new BadInput(
          `--export: expected a scenario with it, found the run folder ${on}. Mend: leave --export out.`,
        );
      }
      const folder = runFolder(on);
      const startedMs = Date.now();
      const { record } = readRun(folder);
      const judged = await judgeRun(folder, onRows);
      progress.clear();
      const result = resultOf(folder, record, judged, (Date.now() - startedMs) / 1000);
      tell(result, words.on('json'), words.on('quiet'));
      return exitCodeOf(result);
    }
    if (file === undefined) {
      throw new BadInput('--export: expected the CSV file to judge, found nothing. Mend: add --export FILE.');
    }
    return checkExport(
      on,
      file,
      words.text('seed'),
      words.text('contract'),
      words.on('json'),
      onRows,
      progress,
    );
  },
};

async function checkExport(
  scenarioFile: string,
  file: string,
  seed: string | undefined,
  contractFile: string | undefined,
  json: boolean,
  onRows: (rows: number) => void,
  progress: Progress,
): Promise<ExitCode> {
  const scenario = readScenario(scenarioFile, seed === undefined ? {} : { seed });
  const contract = contractFile === undefined ? defaultContract() : readContract(contractFile);
  const whole = { file, ...wholePeriod(scenario) };
  const judged = await judgeExport({
    scenario,
    contract,
    dueOf: DUE_ON_TRUST,
    whole,
    again: undefined,
    windows: [],
    onRows,
  });
  progress.clear();
  const verdict = fold([
    checkBrokerKeeps(undefined, undefined),
    checkBrokerOrder(undefined),
    ...judged.checks,
  ]);
  if (json) {
    const { title, seed: used } = scenario;
    const digest = streamDigest(fleetEvents(scenario));
    print(
      JSON.stringify(
        {
          wayproof: 'export-check/1',
          scenario: { title, file: scenarioFile, seed: used, digest },
          export: file,
          rows: judged.rows,
          verdict,
        },
        undefined,
        2,
      ),
    );
  } else {
    print(
      `\n${file}: ${count(judged.rows)} rows, set against ${count(rosterOf(scenario).length)} trackers of ${scenarioFile}, seed ${scenario.seed}`,
    );
    print(
      'There is no ledger or tap, so every message the trackers sent is taken as accepted by the broker.\n',
    );
    print(terminalChecks(verdict, style(process.stdout)));
  }
  return verdict.outcome === 'broken' ? 1 : verdict.outcome === 'held' ? 0 : 3;
}

function isFolder(path: string): boolean {
  try {
    return statSync(path).isDirectory();
  } catch {
    return false;
  }
}
