// The verdict for people, as plain lines. Outcomes are words; colour only repeats them.
import type { CheckResult, Example, Finding, Outcome, Verdict } from '../verdict/verdict.ts';
import type { Flow, Result } from './record.ts';

export interface Style {
  readonly colour: boolean;
  readonly width: number;
}

const OUTCOME_WORDS: Readonly<Record<Outcome, string>> = {
  held: 'held',
  broken: 'BROKEN',
  'not-seen': 'not seen',
};

const OUTCOME_COLOUR: Readonly<Record<Outcome, string>> = { held: '36', broken: '1;35', 'not-seen': '33' };

/** The whole report, ending with the verdict in words. */
export function terminalReport(result: Result, style: Style): string {
  const { verdict, scenario } = result;
  return [
    '',
    scenario.title,
    ...wrap(scenario.shows.trim(), style.width - 2).map((line) => `  ${line}`),
    '',
    ...flowLines(result.flow).map((line) => `  ${line}`),
    '',
    ...verdict.checks.flatMap((check) => checkLines(check, style)),
    '',
    ...verdictLines(result, style),
    '',
    `  CSV        ${result.files.csv}`,
    `  evidence   ${result.files.evidence.join(', ')}`,
    `  JSON       ${result.files.folder}/result.json`,
    `  again      ${result.again}`,
    '',
  ].join('\n');
}

/** The checks and the verdict alone. */
export function terminalChecks(verdict: Verdict, style: Style): string {
  return [
    ...verdict.checks.flatMap((check) => checkLines(check, style)),
    '',
    verdictLine(verdict, style),
    '',
  ].join('\n');
}

function flowLines(flow: Flow): string[] {
  const unsent = flow.readingsUnsent === 0 ? '' : `; ${count(flow.readingsUnsent)} made but never sent`;
  return [
    `tracker    ${count(flow.readingsMade)} readings made by ${count(flow.trackers)} trackers${unsent}`,
    `publisher  ${count(flow.messages)} messages, ${count(flow.acked)} acked${flow.resent === 0 ? '' : `, ${count(flow.resent)} sent more than once`}`,
    `broker     ${flow.accepted === null ? 'not tapped' : `${count(flow.accepted)} accepted`}`,
    `export     ${count(flow.rows)} rows`,
  ];
}

function checkLines(check: CheckResult, style: Style): string[] {
  const outcome = paint(OUTCOME_WORDS[check.outcome].padEnd(9), OUTCOME_COLOUR[check.outcome], style);
  const looked = check.outcome === 'not-seen' ? `not seen: ${check.words}` : check.words;
  const lines = [`  ${outcome} ${check.promise}`, `            ${check.id} · ${looked}`];
  return [...lines, ...check.findings.flatMap((finding) => findingLines(finding, style))];
}

function findingLines(finding: Finding, style: Style): string[] {
  const where = finding.trackers === 0 ? '' : `, ${count(finding.trackers)} trackers`;
  const cause = finding.cause
    ? [
        `            cause: ${finding.cause.words} (${finding.cause.sure})`,
        `            ${finding.cause.evidence}`,
      ]
    : [];
  return [
    `            ${paint('›', '1;35', style)} ${finding.what}: ${count(finding.count)} times${where}; seen at the ${finding.hop}`,
    ...cause,
    ...finding.examples.map((example) => `              ${exampleText(example)}`),
  ];
}

function exampleText(example: Example): string {
  const who = [
    example.tracker,
    example.boot === undefined ? undefined : `boot ${example.boot}`,
    example.seq === undefined ? undefined : `seq ${example.seq}`,
    example.at,
  ].filter((part) => part !== undefined);
  const where = example.record === undefined ? [] : [`record ${example.record}`];
  const column = example.column === undefined ? '' : ` ${example.column}:`;
  const values =
    example.expected === undefined && example.found === undefined
      ? ''
      : `${column} expected ${show(example.expected)}, found ${show(example.found)}`;
  return [...who, ...where].join(' · ') + values;
}

/** One line of text, with what can't be printed written out. */
function show(text: string | undefined): string {
  if (text === undefined) return 'nothing';
  const cut = text.length > 80 ? `${text.slice(0, 77)}…` : text;
  return JSON.stringify(cut);
}

function verdictLines(result: Result, style: Style): string[] {
  return [
    verdictLine(result.verdict, style),
    ...wrap(verdictWords(result), style.width - 2).map((line) => `  ${line}`),
  ];
}

function verdictLine(verdict: Verdict, style: Style): string {
  const of = (outcome: Outcome) => verdict.checks.filter((check) => check.outcome === outcome).length;
  const counts = `${of('held')} held, ${of('broken')} broken, ${of('not-seen')} not seen`;
  const words = `VERDICT: ${OUTCOME_WORDS[verdict.outcome]}`;
  return `  ${paint(words, OUTCOME_COLOUR[verdict.outcome], style)}  (${counts})`;
}

/** The verdict in a sentence or two. */
export function verdictWords(result: Result): string {
  const { verdict, flow, incomplete } = result;
  const partly = incomplete === null ? '' : `The run was not completed: ${incomplete}. `;
  const unseen = verdict.checks.filter((check) => check.outcome === 'not-seen').map((check) => check.id);
  const open = unseen.length === 0 ? '' : ` Not seen, so not proven: ${unseen.join(', ')}.`;
  if (verdict.outcome === 'broken') {
    const broken = verdict.checks.filter((check) => check.outcome === 'broken').map((check) => check.id);
    return `${partly}What stands in the CSV is not what left the trackers: ${broken.join(', ')} broken.${open}`;
  }
  if (verdict.outcome === 'held') {
    return `${partly}What left the trackers is what stands in the CSV: ${count(flow.rows)} rows, each compared cell by cell with what was measured.${open}`;
  }
  return `${partly}Nothing could be proven.${open}`;
}

function paint(text: string, code: string, style: Style): string {
  return style.colour ? `\u001b[${code}m${text}\u001b[0m` : text;
}

/** 12345 → `12,345`. */
export function count(n: number): string {
  return String(n).replace(/\B(?=(\d{3})+$)/g, ',');
}

function wrap(text: string, width: number): string[] {
  const lines: string[] = [];
  let line = '';
  for (const word of text.split(/\s+/)) {
    if (line !== '' && line.length + 1 + word.length > width) {
      lines.push(line);
      line = word;
    } else {
      line = line === '' ? word : `${line} ${word}`;
    }
  }
  if (line !== '') lines.push(line);
  return lines;
}
