// The verdict for people, as plain lines. Outcomes are words; colour only repeats them.
import { oneLine } from '../../sim/index.ts';
import type { Cause, CheckResult, Finding, Hop, Outcome, Verdict } from '../verdict/verdict.ts';
import { exampleLines } from './example.ts';
import { count, grouped, joined, many, paint, wrap, type Style } from './lines.ts';
import type { Flow, Result } from './record.ts';
import { OUTCOME_WORDS, outcomeWord, verdictWords, type Judged } from './words.ts';

export { count, type Style } from './lines.ts';

const OUTCOME_WIDTH = 9;

const OUTCOME_COLOUR: Readonly<Record<Outcome, string>> = { held: '36', broken: '1;35', 'not-seen': '33' };

export interface ReportOptions {
  /** Whether result.json was written by the command that reports; true by default. */
  readonly jsonWritten?: boolean;
}

/** The whole report, ending with the verdict in words. */
export function terminalReport(result: Result, style: Style, options: ReportOptions = {}): string {
  const { verdict, scenario, files } = result;
  const json = (options.jsonWritten ?? true) ? oneLine(`${files.folder}/result.json`) : ADD_JSON;
  return [
    '',
    ...wrap(scenario.title, style.width),
    ...wrap(scenario.shows, style.width - 2).map((line) => `  ${line}`),
    '',
    ...flowLines(result.flow).flatMap(([name, words]) => named(name, wrap(words, style.width - NAME_WIDTH))),
    ...named('digest', [digestWords(scenario.digest)]),
    '',
    ...verdict.checks.flatMap((check) => checkLines(check, style)),
    ...verdict.checks.flatMap((check) => brokenLines(check, files.csv, style)),
    '',
    ...verdictLines(result, style),
    '',
    ...named('CSV', [oneLine(files.csv)]),
    ...named('evidence', pathLines(files.evidence, style)),
    ...named('JSON', [json]),
    ...named('again', [oneLine(result.again)]),
    '',
  ].join('\n');
}

/** What an export that was judged alone came to. */
export interface ExportReport {
  readonly file: string;
  readonly rows: number;
  readonly trackers: number;
  readonly scenarioFile: string;
  readonly seed: string;
  readonly digest: string;
  readonly again: string;
  readonly verdict: Verdict;
}

/** The report on an export that was judged without the evidence of a run. */
export function terminalExportReport(report: ExportReport, style: Style): string {
  const { verdict } = report;
  return [
    '',
    ...wrap(
      `${report.file}: ${many(report.rows, 'row')}, set against ${many(report.trackers, 'tracker')} of ${report.scenarioFile}, seed ${report.seed}`,
      style.width,
    ),
    ...wrap(
      'There is no ledger or tap, so every message the trackers sent is taken as accepted by the broker.',
      style.width,
    ),
    '',
    ...named('digest', [digestWords(report.digest)]),
    '',
    ...verdict.checks.flatMap((check) => checkLines(check, style)),
    ...verdict.checks.flatMap((check) => brokenLines(check, report.file, style)),
    '',
    ...verdictLines({ verdict, incomplete: null, flow: report }, style),
    '',
    ...named('JSON', [ADD_JSON]),
    ...named('again', [oneLine(report.again)]),
    '',
  ].join('\n');
}

function digestWords(digest: string): string {
  return `${oneLine(digest.slice(0, 16))}… (the same scenario and seed give the same)`;
}

/** A name, and what it stands for beside it. */
function named(name: string, lines: readonly string[]): string[] {
  return lines.map((line, k) => (k === 0 ? `  ${name}` : '').padEnd(NAME_WIDTH) + line);
}

const NAME_WIDTH = 13;
const ADD_JSON = 'add --json for the whole result';

/** Paths with commas between; none is broken, so that each can be copied. */
function pathLines(paths: readonly string[], style: Style): string[] {
  const parts = paths.map((path, k) => `${oneLine(path)}${k === paths.length - 1 ? '' : ','}`);
  return joined(parts, style.width - NAME_WIDTH);
}

function flowLines(flow: Flow): (readonly [name: string, words: string])[] {
  const { messages, acked, accepted } = flow;
  const unsent = flow.readingsUnsent === 0 ? '' : `; ${count(flow.readingsUnsent)} made but never sent`;
  const resent = flow.resent === 0 ? '' : `, ${count(flow.resent)} sent more than once after broken links`;
  const unacked = acked < messages ? ' (the others at QoS 0, or not answered)' : '';
  return [
    ['tracker', `${many(flow.readingsMade, 'reading')} made by ${many(flow.trackers, 'tracker')}${unsent}`],
    ['publisher', `${many(messages, 'message')}, ${count(acked)} acked${unacked}${resent}`],
    [
      'broker',
      accepted === null ? 'not tapped' : `${count(accepted)} accepted${acceptedWords(accepted - messages)}`,
    ],
    ['export', many(flow.rows, 'row')],
  ];
}

/** Why more or fewer messages were accepted than were published. */
function acceptedWords(more: number): string {
  if (more > 0) return `, ${count(more)} more than messages: deliveries repeated, or wills`;
  return more < 0 ? `, ${count(-more)} fewer than messages` : '';
}

/** One or two lines a check; what broke is told below, in full. */
function checkLines(check: CheckResult, style: Style): string[] {
  const outcome = paint(
    OUTCOME_WORDS[check.outcome].padEnd(OUTCOME_WIDTH),
    OUTCOME_COLOUR[check.outcome],
    style,
  );
  const [first = '', ...more] = wrap(
    `${check.promise} (${grouped(check.words)})`,
    style.width - OUTCOME_WIDTH - 3,
  );
  const indent = ' '.repeat(OUTCOME_WIDTH + 3);
  return [`  ${outcome} ${first}`, ...more.map((line) => `${indent}${line}`)];
}

/** `csv` is the file that examples lie in where they name no other. */
function brokenLines(check: CheckResult, csv: string, style: Style): string[] {
  if (check.findings.length === 0) return [];
  const [first = '', ...more] = wrap(`${check.id}: ${check.promise}`, style.width - 10);
  const title = [
    `  ${paint('BROKEN', OUTCOME_COLOUR.broken, style)}  ${first}`,
    ...more.map((line) => `          ${line}`),
  ];
  const lines = check.findings.flatMap((finding, k) =>
    findingLines(finding, check.findings[k - 1], csv, style),
  );
  return ['', ...title, ...lines];
}

/** A finding with the cause of the one before it is told in one line. */
function findingLines(finding: Finding, before: Finding | undefined, csv: string, style: Style): string[] {
  const { cause } = finding;
  const where = finding.trackers === 0 ? '' : `, ${many(finding.trackers, 'tracker')}`;
  const times = `${many(finding.count, 'time')}${where}`;
  const same = cause !== null && before?.cause?.name === cause.name && before.hop === finding.hop;
  const lines = wrap(`${finding.what}: ${times}${same ? ', by the same cause' : ''}`, style.width - 6);
  const head = lines.map(
    (line, k) => `    ${k === 0 ? paint('›', OUTCOME_COLOUR.broken, style) : ' '} ${line}`,
  );
  if (same) return head;
  return [
    ...head,
    ...causeLines(cause, finding.hop, style.width - 8).map((line) => `      ${line}`),
    ...finding.examples.flatMap((example) =>
      exampleLines(example, csv, style.width - 8).map((line) => `        ${line}`),
    ),
  ];
}

function causeLines(cause: Cause | null, hop: Hop, width: number): string[] {
  if (!cause) return [`no known cause fits; seen at the ${hop}`];
  return [
    ...wrap(`cause (${cause.sure}): ${cause.words}`, width),
    ...wrap(`at the ${hop}; ${cause.evidence}`, width),
  ];
}

function verdictLines(judged: Judged, style: Style): string[] {
  return [
    verdictLine(judged, style),
    ...wrap(verdictWords(judged), style.width - 2).map((line) => `  ${line}`),
  ];
}

function verdictLine({ verdict, incomplete }: Judged, style: Style): string {
  const of = (outcome: Outcome) => verdict.checks.filter((check) => check.outcome === outcome).length;
  const counts = `${of('held')} held, ${of('broken')} broken, ${of('not-seen')} not seen`;
  const words = `VERDICT: ${outcomeWord(verdict, incomplete)}`;
  return `  ${paint(words, OUTCOME_COLOUR[verdict.outcome], style)}  (${counts})`;
}
