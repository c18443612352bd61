// The harness's front door: exports only.
export { judgeExport, type ExportFile, type ExportJudged, type JudgeInput } from './checks/judge.ts';
export type { Contract } from './contract/contract.ts';
export { defaultContract, parseContract, readContract } from './contract/read-contract.ts';
export {
  readCsv,
  RFC4180,
  type CsvBatch,
  type CsvFlaw,
  type CsvRecord,
  type CsvRules,
} from './csv/reader.ts';
export { DUE_ON_TRUST, dueByEvidence } from './expected/due.ts';
export { runFolder, type RunFolder } from './run/folder.ts';
export { judgeRun } from './run/judge-run.ts';
export { collectEvidence, type RunOptions, type RunProgress } from './run/run-scenario.ts';
export type { Result } from './report/record.ts';
export type { Cause, CheckResult, Example, Finding, Outcome, Verdict } from './verdict/verdict.ts';
