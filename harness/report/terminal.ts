// The verdict for people, as plain lines. Outcomes are words; colour only repeats them.
import type { Cause, CheckResult, Example, Finding, Hop, Outcome, Verdict } from '../verdict/verdict.ts';
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

const OUTCOME_WIDTH = 9;

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
    ...verdict.checks.flatMap((check) => brokenLines(check, style)),
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
    ...verdict.checks.flatMap((check) => brokenLines(check, style)),
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

function brokenLines(check: CheckResult, style: Style): string[] {
  if (check.findings.length === 0) return [];
  const title = `${paint('BROKEN', OUTCOME_COLOUR.broken, style)}  ${check.id}: ${check.promise}`;
  const lines = check.findings.flatMap((finding, k) => findingLines(finding, check.findings[k - 1], style));
  return ['', `  ${title}`, ...lines];
}

/** A finding with the cause of the one before it is told in one line. */
function findingLines(finding: Finding, before: Finding | undefined, style: Style): string[] {
  const { cause } = finding;
  const where =
    finding.trackers === 0
      ? ''
      : `, ${count(finding.trackers)} ${finding.trackers === 1 ? 'tracker' : 'trackers'}`;
  const times = `${count(finding.count)} ${finding.count === 1 ? 'time' : 'times'}${where}`;
  const same = cause !== null && before?.cause?.name === cause.name && before.hop === finding.hop;
  const lines = wrap(`${finding.what}: ${times}${same ? ', by the same cause' : ''}`, style.width - 6);
  const head = lines.map(
    (line, k) => `    ${k === 0 ? paint('›', OUTCOME_COLOUR.broken, style) : ' '} ${line}`,
  );
  if (same) return head;
  return [
    ...head,
    ...causeLines(cause, finding.hop, style.width - 8).map((line) => `      ${line}`),
    ...finding.examples.map((example) => `        ${exampleText(example)}`),
  ];
}

function causeLines(cause: Cause | null, hop: Hop, width: number): string[] {
  if (!cause) return [`no known cause fits; seen at the ${hop}`];
  return [
    ...wrap(`cause (${cause.sure}): ${cause.words}`, width),
    ...wrap(`at the ${hop}; ${cause.evidence}`, width),
  ];
}

/** Long whole numbers in words get their commas; ids and decimals stay. */
function grouped(words: string): string {
  return words.replace(/(?<![\d.,-])\d{4,9}(?![\d.,-])/g, (digits) => count(Number(digits)));
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
  const partly = incomplete === null ? '' : `The run was not completed: ${grouped(incomplete)}. `;
  const unseen = verdict.checks.filter((check) => check.outcome === 'not-seen').map((check) => check.id);
  const open = unseen.length === 0 ? '' : ` Not seen, so not proven: ${unseen.join(', ')}.`;
  if (verdict.outcome === 'broken') {
    const broken = verdict.checks.filter((check) => check.outcome === 'broken').map((check) => check.id);
    return `${partly}What stands in the CSV is not what left the trackers: ${broken.join(', ')} broken.${open}`;
  }
  if (verdict.outcome === 'held') {
    return `${partly}What left the trackers is what stands in the CSV: ${count(flow.rows)} rows, each compared cell by cell with what was measured.${open}`;
  }
  if (incomplete !== null && verdict.checks.some((check) => check.outcome === 'held')) {
    return `${partly}Nothing was broken so far, in ${count(flow.rows)} rows compared cell by cell; of the rest nothing is known.${open}`;
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
