// wayproof check: judge a CSV export that already exists, or a run's evidence again.
import { existsSync, statSync } from 'node:fs';
import {
  BadInput,
  fleetEvents,
  readScenario,
  regularFileBytes,
  rosterOf,
  streamDigest,
} from '../../sim/index.ts';
import { judgeExport } from '../checks/judge.ts';
import { checkBrokerKeeps, checkBrokerOrder } from '../checks/transit.ts';
import { defaultContract, readContract } from '../contract/read-contract.ts';
import { DUE_ON_TRUST } from '../expected/due.ts';
import { count } from '../report/lines.ts';
import { terminalExportReport, terminalReport } from '../report/terminal.ts';
import { quietLine } from '../report/words.ts';
import { runFolder } from '../run/folder.ts';
import { judgeRun, readRun } from '../run/judge-run.ts';
import { wholePeriod } from '../run/windows.ts';
import { fold, type Verdict } from '../verdict/verdict.ts';
import type { Command, ExitCode } from './command.ts';
import {
  CONTRACT,
  JSON_OUT,
  onlyPositional,
  optionText,
  QUIET,
  readWords,
  SEED,
  shellWord,
  type OptionSpec,
  type Words,
} from './options.ts';
import { exitCodeOf, resultOf } from './run.ts';
import { print, Progress, style } from './terminal.ts';

const EXPORT: OptionSpec = { name: 'export', value: 'FILE', about: 'the CSV export to judge' };
const OPTIONS = [EXPORT, SEED, CONTRACT, JSON_OUT, QUIET];

export const check: Command = {
  name: 'check',
  on: '<scenario|run folder>',
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
      for (const { name } of [EXPORT, SEED, CONTRACT]) {
        if (words.text(name) === undefined) continue;
        throw new BadInput(
          `--${name}: expected a scenario with it, found the run folder ${on}, which has its own. Mend: leave --${name} out.`,
        );
      }
      const folder = runFolder(on);
      const startedMs = Date.now();
      const { record } = readRun(folder);
      const judged = await judgeRun(folder, onRows);
      progress.clear();
      const result = resultOf(folder, record, judged, (Date.now() - startedMs) / 1000);
      if (words.on('json')) print(JSON.stringify(result, undefined, 2));
      else if (words.on('quiet')) print(quietLine(result));
      else print(terminalReport(result, style(process.stdout), { jsonWritten: false }));
      return exitCodeOf(result);
    }
    if (file === undefined) {
      throw new BadInput('--export: expected the CSV file to judge, found nothing. Mend: add --export FILE.');
    }
    return checkExport(on, file, words, onRows, progress);
  },
};

async function checkExport(
  scenarioFile: string,
  file: string,
  words: Words,
  onRows: (rows: number) => void,
  progress: Progress,
): Promise<ExitCode> {
  regularFileBytes(file, 'the CSV file to judge', 'give the name of the export');
  const seed = words.text('seed');
  const contractFile = words.text('contract');
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
  const { title, seed: used } = scenario;
  if (!words.on('json') && words.on('quiet')) {
    print(quietLine({ verdict, incomplete: null, flow: judged }));
    return exitCode(verdict);
  }
  const digest = streamDigest(fleetEvents(scenario));
  const { rows } = judged;
  if (words.on('json')) {
    const told = { title, file: scenarioFile, seed: used, digest };
    const document = { wayproof: 'export-check/1', scenario: told, export: file, rows, verdict };
    print(JSON.stringify(document, undefined, 2));
  } else {
    const trackers = rosterOf(scenario).length;
    const again = againCommand(scenarioFile, file, used, contractFile);
    const report = { file, rows, trackers, scenarioFile, seed: used, digest, again, verdict };
    print(terminalExportReport(report, style(process.stdout)));
  }
  return exitCode(verdict);
}

function againCommand(scenario: string, file: string, seed: string, contract: string | undefined): string {
  const options = { export: file, seed, ...(contract === undefined ? {} : { contract }) };
  const typed = Object.entries(options).map(([name, value]) => optionText(name, value));
  return `npm run -s wayproof -- check ${[shellWord(scenario), ...typed].join(' ')}`;
}

function exitCode(verdict: Verdict): ExitCode {
  return verdict.outcome === 'broken' ? 1 : verdict.outcome === 'held' ? 0 : 3;
}

function isFolder(path: string): boolean {
  try {
    return statSync(path).isDirectory();
  } catch {
    return false;
  }
}
