// wayproof run: the main job, from scenario to verdict.
import { writeFileSync } from 'node:fs';
import { BadInput, readScenario, rosterOf, utcText, type Scenario } from '../../sim/index.ts';
import { defaultContract, readContract } from '../contract/read-contract.ts';
import { defectNamed } from '../defects/index.ts';
import type { Result } from '../report/record.ts';
import { count, terminalReport } from '../report/terminal.ts';
import { quietLine } from '../report/words.ts';
import { newRunFolder, removeRunFolder, type RunFolder } from '../run/folder.ts';
import { judgeRun } from '../run/judge-run.ts';
import type { RunRecord } from '../run/record.ts';
import { collectEvidence, DEFAULT_CONTRACT_FILE, type RunProgress } from '../run/run-scenario.ts';
import { PACE, paceOf } from './broker-options.ts';
import type { Command, ExitCode } from './command.ts';
import { untilInterrupted } from './interrupt.ts';
import {
  CONTRACT,
  JSON_OUT,
  onlyPositional,
  optionText,
  OUT,
  QUIET,
  readWords,
  SEED,
  shellWord,
  wholeNumberOption,
  type OptionSpec,
} from './options.ts';
import { print, Progress, style } from './terminal.ts';
import { VERSION } from './version.ts';

const PORT: OptionSpec = {
  name: 'port',
  value: 'N',
  about: 'port of the embedded broker (default: any free one)',
};
const DEFECT: OptionSpec = {
  name: 'defect',
  value: 'NAME',
  about: 'damage the pipeline on purpose, and restart it half-way (names: wayproof defects)',
};
const OPTIONS = [
  SEED,
  CONTRACT,
  OUT,
  PORT,
  DEFECT,
  { ...PACE, about: `${PACE.about} (default)` },
  JSON_OUT,
  QUIET,
];

export const run: Command = {
  name: 'run',
  on: '<scenario>',
  about: 'simulate, publish, ingest, export, check, report: the main job',
  options: OPTIONS,
  examples: [
    'wayproof run scenarios/quiet-day.yaml',
    'wayproof run scenarios/tunnel-and-upland.yaml --seed another --json > result.json',
  ],
  async run(args) {
    const words = readWords(args, OPTIONS);
    const scenarioFile = onlyPositional(words, 'a scenario file');
    const seed = words.text('seed');
    const scenario = readScenario(scenarioFile, seed === undefined ? {} : { seed });
    // Before anything is started, so that a wrong name is told at once.
    const defectName = words.text('defect');
    const defect = defectName === undefined ? undefined : defectNamed(defectName);
    const contractFile = words.text('contract') ?? defect?.contract;
    const contract = contractFile === undefined ? defaultContract() : readContract(contractFile);
    const port = wholeNumberOption('port', words.text('port') ?? '0', 0, 65_535);
    const pace = paceOf(words.text('pace') ?? 'full');
    const folder = newRunFolder(scenarioFile, words.text('out'));

    const quiet = words.on('quiet');
    const progress = new Progress(quiet);
    const interrupt = untilInterrupted();
    const startedMs = Date.now();
    const record = await removingOnBadInput(folder, () =>
      collectEvidence({
        scenario,
        scenarioFile,
        contract,
        contractFile: contractFile ?? DEFAULT_CONTRACT_FILE,
        folder,
        pace,
        port,
        signal: interrupt.signal,
        ...(defect === undefined ? {} : { defect: defect.name, crash: true }),
        onProgress: (now) =>
          progress.show(() => progressLine(scenario, now, (Date.now() - startedMs) / 1000)),
      }),
    );
    const judged = await judgeRun(
      folder,
      (rows) => progress.show(() => `judging · ${count(rows)} rows compared`),
      true,
    );
    interrupt.done();
    progress.clear();

    const result = resultOf(folder, record, judged, (Date.now() - startedMs) / 1000);
    writeFileSync(folder.result, `${JSON.stringify(result, undefined, 2)}\n`);
    tell(result, words.on('json'), quiet);
    return exitCodeOf(result);
  },
};

/** Input that shows itself wrong only now, such as a port in use, must leave nothing behind. */
async function removingOnBadInput<T>(folder: RunFolder, work: () => Promise<T>): Promise<T> {
  try {
    return await work();
  } catch (error) {
    if (error instanceof BadInput) removeRunFolder(folder);
    throw error;
  }
}

/** Prints a result as JSON, as the whole report, or as the verdict alone. */
function tell(result: Result, json: boolean, quiet: boolean): void {
  if (json) print(JSON.stringify(result, undefined, 2));
  else if (quiet) print(quietLine(result));
  else print(terminalReport(result, style(process.stdout)));
}

/** Broken is broken even when the run was cut short; a cut run is never reported as held. */
export function exitCodeOf(result: Result): ExitCode {
  if (result.verdict.outcome === 'broken') return 1;
  return result.incomplete !== null || result.verdict.outcome === 'not-seen' ? 3 : 0;
}

export function resultOf(
  folder: RunFolder,
  record: RunRecord,
  judged: Awaited<ReturnType<typeof judgeRun>>,
  seconds: number,
): Result {
  const { scenario, contract } = judged;
  return {
    wayproof: 'result/1',
    version: VERSION,
    scenario: {
      title: scenario.title,
      shows: scenario.shows.trim(),
      file: record.scenarioFile,
      seed: scenario.seed,
      from: utcText(scenario.startMs),
      to: utcText(scenario.endMs),
      digest: record.digest,
    },
    contract: { title: contract.title, file: record.contractFile },
    again: againCommand(record),
    files: {
      folder: folder.path,
      csv: folder.whole,
      evidence: [folder.ledger, folder.tap, folder.store],
    },
    flow: {
      trackers: rosterOf(scenario).length,
      readingsMade: record.readingsSent + record.readingsUnsent,
      readingsSent: record.readingsSent,
      readingsUnsent: record.readingsUnsent,
      messages: record.messages,
      acked: judged.acked,
      accepted: judged.accepted,
      resent: judged.resent,
      rows: judged.rows,
    },
    incomplete: judged.incomplete,
    verdict: judged.verdict,
    seconds,
  };
}

function againCommand(record: RunRecord): string {
  const { contractFile, defect } = record;
  return [
    `npm run -s wayproof -- run ${shellWord(record.scenarioFile)}`,
    optionText('seed', record.seed),
    ...(contractFile === DEFAULT_CONTRACT_FILE ? [] : [optionText('contract', contractFile)]),
    ...(defect === null ? [] : [optionText('defect', defect)]),
  ].join(' ');
}

function progressLine(scenario: Scenario, now: RunProgress, seconds: number): string {
  const virtualS = (now.virtualMs - scenario.startMs) / 1000;
  const speed = seconds > 0 ? Math.round(virtualS / seconds) : 0;
  return [
    now.step,
    `simulated ${utcText(now.virtualMs).slice(0, 16)} (×${count(speed)})`,
    `${count(now.readings)} readings`,
    `${count(now.published)} published`,
    `${count(now.acked)} acked`,
    `${count(now.stored)} stored`,
  ].join(' · ');
}
