// wayproof stream: simulate and publish only; without a broker, print what would be sent.
import { Readable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import {
  emissionPayload,
  fleetEvents,
  readScenario,
  utcText,
  type Emission,
  type Pace,
  type Scenario,
  type TrackerSpec,
} from '../../sim/index.ts';
import { publishTo } from '../run/publish-to.ts';
import { count } from '../report/terminal.ts';
import type { Command, ExitCode } from './command.ts';
import { BROKER, loopbackTarget, PACE, paceOf } from './broker-options.ts';
import { onlyPositional, QUIET, readWords, SEED } from './options.ts';
import { untilInterrupted } from './interrupt.ts';
import { complain, Progress } from './terminal.ts';

const OPTIONS = [SEED, BROKER, PACE, QUIET];

export const stream: Command = {
  name: 'stream',
  on: '<scenario>',
  about: 'simulate and publish only; without a broker, print NDJSON',
  options: OPTIONS,
  examples: [
    'wayproof stream scenarios/quiet-day.yaml > messages.ndjson',
    'wayproof stream scenarios/quiet-day.yaml --broker mqtt://127.0.0.1:1883 --pace 60',
  ],
  async run(args) {
    const words = readWords(args, OPTIONS);
    const seed = words.text('seed');
    const scenario = readScenario(
      onlyPositional(words, 'a scenario file'),
      seed === undefined ? {} : { seed },
    );
    const broker = words.text('broker');
    if (broker === undefined) return printAll(scenario);
    return publishAll(scenario, loopbackTarget(broker), paceOf(words.text('pace') ?? '1'), words.on('quiet'));
  },
};

async function printAll(scenario: Scenario): Promise<ExitCode> {
  try {
    await pipeline(Readable.from(emissionLines(scenario)), process.stdout, { end: false });
  } catch (error) {
    // A reader that has seen enough (`| head`) closes the pipe; that isn't an error.
    const { code } = error as NodeJS.ErrnoException;
    if (code !== 'EPIPE' && code !== 'ERR_STREAM_PREMATURE_CLOSE') throw error;
  }
  return 0;
}

function* emissionLines(scenario: Scenario): Generator<string, void> {
  for (const { tracker, event } of fleetEvents(scenario)) {
    if (event.kind === 'emission') yield `${emissionLine(tracker, event)}\n`;
  }
}

function emissionLine(tracker: TrackerSpec, emission: Emission): string {
  const payload = Buffer.from(emissionPayload(tracker, emission));
  const isText = tracker.group.mqtt.payload !== 'senml-cbor' || emission.purpose === 'status';
  return JSON.stringify({
    at: utcText(emission.atMs),
    tracker: tracker.identity.imei,
    n: emission.n,
    topic: emission.topic,
    qos: emission.qos,
    retain: emission.retain,
    ...(isText ? { payload: payload.toString('utf8') } : { payloadBase64: payload.toString('base64') }),
  });
}

async function publishAll(
  scenario: Scenario,
  target: { host: string; port: number },
  pace: Pace,
  quiet: boolean,
): Promise<ExitCode> {
  const progress = new Progress(quiet);
  const interrupt = untilInterrupted();
  const { summary } = await publishTo(scenario, target, {
    pace,
    signal: interrupt.signal,
    onProgress: ({ virtualMs, emissions, acked, connected }) =>
      progress.show(
        () =>
          `${utcText(virtualMs)} · ${count(emissions)} published · ${count(acked)} acked · ${count(connected)} connected`,
      ),
  });
  interrupt.done();
  progress.clear();
  const partly = summary.interrupted ? ' (interrupted)' : '';
  complain(`${count(summary.emissions)} messages published, ${count(summary.totals.acked)} acked${partly}`);
  for (const words of summary.pending) complain(`not completed: ${words}`);
  return summary.interrupted || summary.pending.length > 0 ? 3 : 0;
}
