// The report for people: nothing in it commands the terminal, and it fits.
import { describe, expect, it } from 'vitest';
import type { Flow, Result } from '../../harness/report/record.ts';
import { terminalExportReport, terminalReport } from '../../harness/report/terminal.ts';
import { quietLine } from '../../harness/report/words.ts';
import { fold, type CheckResult, type Finding } from '../../harness/verdict/verdict.ts';

const PLAIN = { colour: false, width: 80 };

// ECMA-48: OSC is ESC ] (C1: U+009D), CSI is ESC [ (C1: U+009B). Unicode 15.1 section 23.2 lists the controls of
// direction; U+2028 and U+2029 end a line.
const HOSTILE = '\u001b]0;owned\u0007\u009b2J\u009d\u007f\r\n\u2028\u2029\u202e\u2066\u061c';
// oxlint-disable-next-line no-control-regex
const COMMANDS = /[\u0000-\u0009\u000b-\u001f\u007f-\u009f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069]/;

const flow: Flow = {
  trackers: 2,
  readingsMade: 10,
  readingsSent: 10,
  readingsUnsent: 0,
  messages: 10,
  acked: 10,
  accepted: 10,
  resent: 0,
  rows: 10,
};

function checkWith(findings: readonly Finding[], words = '10 rows'): CheckResult {
  return {
    id: 'values.text',
    family: 'values',
    promise: 'every text is intact',
    outcome: findings.length > 0 ? 'broken' : 'held',
    looked: 10,
    words,
    findings,
  };
}

function resultWith(checks: readonly CheckResult[], more: Partial<Result> = {}): Result {
  return {
    wayproof: 'result/1',
    version: '0',
    scenario: {
      title: 'A test',
      shows: 'What a test\n  needs.',
      file: 's.yaml',
      seed: 'x',
      from: '',
      to: '',
      digest: '0123456789abcdef0123456789abcdef',
    },
    contract: { title: 't', file: 'c.yaml' },
    again: 'again',
    files: { folder: 'out', csv: 'out/export.csv', evidence: ['out/ledger.ndjson', 'out/tap.ndjson'] },
    flow,
    incomplete: null,
    verdict: fold(checks),
    seconds: 1,
    ...more,
  };
}

const finding = (more: Partial<Finding> = {}): Finding => ({
  what: 'a cell',
  cause: null,
  hop: 'export',
  count: 1,
  trackers: 1,
  examples: [],
  ...more,
});

describe('what a file brings in', () => {
  it('does not reach the terminal as a command, wherever it stands', () => {
    const hostile = finding({
      what: HOSTILE,
      cause: { name: HOSTILE, words: HOSTILE, evidence: HOSTILE, explains: 1, sure: 'likely' },
      examples: [
        {
          tracker: HOSTILE,
          at: HOSTILE,
          file: HOSTILE,
          record: 3,
          column: HOSTILE,
          expected: HOSTILE,
          found: HOSTILE,
        },
      ],
    });
    const result = resultWith([checkWith([hostile], HOSTILE)], {
      incomplete: HOSTILE,
      again: HOSTILE,
      files: { folder: HOSTILE, csv: HOSTILE, evidence: [HOSTILE, HOSTILE] },
    });
    const scenario = { ...result.scenario, title: HOSTILE, shows: HOSTILE, digest: HOSTILE };
    const text = terminalReport({ ...result, scenario }, PLAIN);
    expect(text).not.toMatch(COMMANDS);
    expect(text).toContain('\\u001b]0;owned\\u0007\\u009b2J');
    expect(quietLine(result)).not.toMatch(COMMANDS);
    expect(quietLine(result)).not.toContain('\n');
    const alone = terminalExportReport(
      {
        file: HOSTILE,
        rows: 1,
        trackers: 1,
        scenarioFile: HOSTILE,
        seed: HOSTILE,
        digest: HOSTILE,
        again: HOSTILE,
        verdict: result.verdict,
      },
      PLAIN,
    );
    expect(alone).not.toMatch(COMMANDS);
  });

  it('names the file of an example, where it is not the export', () => {
    const examples = [
      { file: 'out/export.csv', record: 3 },
      { file: 'out/window-1.csv', record: 4 },
    ];
    const text = terminalReport(resultWith([checkWith([finding({ examples })])]), PLAIN);
    expect(text).toContain('        record 3\n        record 4 of window-1.csv\n');
  });

  it('keeps the spaces of a cell, and wraps its example', () => {
    const found = 'two  spaces and then words that go on and on, past the end of what a line can hold';
    const example = { tracker: '001010000000008', boot: 1, seq: 2, record: 3, column: 'label' };
    const text = terminalReport(
      resultWith([checkWith([finding({ examples: [{ ...example, expected: 'a', found }] })])]),
      PLAIN,
    );
    expect(text).toContain('"two  spaces');
    const lines = text.split('\n');
    expect(lines.filter((line) => line.length > PLAIN.width)).toEqual([]);
  });
});

describe('the report', () => {
  const flowOf = (more: Partial<Flow>): string =>
    terminalReport(resultWith([checkWith([])], { flow: { ...flow, ...more } }), PLAIN);

  it('shows the digest and where everything lies', () => {
    const text = flowOf({});
    expect(text).toContain('  digest     0123456789abcdef… (the same scenario and seed give the same)\n');
    expect(text).toContain('  evidence   out/ledger.ndjson, out/tap.ndjson\n');
    expect(text).toContain('  JSON       out/result.json\n');
    expect(text).toContain('  What a test needs.\n');
  });

  it('leaves a command and paths to be copied as they are', () => {
    const again = `npm run -s wayproof -- run 'my  file.yaml' --seed ${'x'.repeat(80)}`;
    const files = { folder: 'my  run', csv: 'my  run/export.csv', evidence: ['my  run/a', 'b'.repeat(70)] };
    const text = terminalReport(resultWith([checkWith([])], { again, files }), PLAIN);
    expect(text).toContain(`  again      ${again}\n`);
    expect(text).toContain('  CSV        my  run/export.csv\n');
    expect(text).toContain(`  evidence   my  run/a,\n             ${'b'.repeat(70)}\n`);
  });

  it('points to no result.json that was not written', () => {
    const text = terminalReport(resultWith([checkWith([])]), PLAIN, { jsonWritten: false });
    expect(text).not.toContain('result.json');
    expect(text).toContain('  JSON       add --json');
  });

  it('says one thing in the singular', () => {
    const one = flowOf({ trackers: 1, readingsMade: 1, messages: 1, acked: 1, accepted: 1, rows: 1 });
    expect(one).toContain('1 reading made by 1 tracker\n');
    expect(one).toContain('1 message, 1 acked\n');
    expect(one).toContain('export     1 row\n');
    expect(one).toContain('stands in the CSV: 1 row, compared');
  });

  it('explains counts that differ', () => {
    const text = flowOf({ resent: 3, accepted: 12, acked: 9 }).replace(/\s+/g, ' ');
    expect(text).toContain('3 sent more than once after broken links');
    expect(text).toContain('12 accepted, 2 more than messages: deliveries repeated, or wills');
    expect(text).toContain('9 acked (the others at QoS 0, or not answered)');
    expect(flowOf({ accepted: 8 })).toContain('8 accepted, 2 fewer than messages');
    expect(flowOf({ accepted: null })).toContain('broker     not tapped');
  });

  it('calls a cut run not completed, and a broken one broken all the same', () => {
    const verdict = { outcome: 'not-seen', checks: [checkWith([])] } as const;
    const cut = resultWith([], { verdict, incomplete: 'interrupted' });
    expect(terminalReport(cut, PLAIN)).toContain('VERDICT: not completed  (1 held, 0 broken, 0 not seen)');
    expect(quietLine(cut)).toMatch(/^not completed: The run was not completed: interrupted\. /);
    const broken = resultWith([checkWith([finding()])], { incomplete: 'interrupted' });
    expect(terminalReport(broken, PLAIN)).toContain('VERDICT: BROKEN');
    expect(quietLine(broken)).toMatch(/^broken: /);
  });
});
