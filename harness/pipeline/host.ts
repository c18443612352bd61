// Runs the reference pipeline in a process of its own, so that it can be killed as a real one would be,
// and so that its work doesn't slow the publisher's.
import { fork, type ChildProcess } from 'node:child_process';
import { BadInput, NotCompleted } from '../../sim/index.ts';
import type { Answer, Asked, HostedOptions, Request } from './messages.ts';
import type { ExportQuery, Pipeline, PipelineCounts } from './pipeline.ts';

export type { HostedOptions } from './messages.ts';

/** How much of the child's standard error is kept for the error message. */
const TAIL_CHARACTERS = 2000;

interface Waiting {
  readonly resolve: (value: unknown) => void;
  readonly reject: (error: Error) => void;
}

export class HostedPipeline implements Pipeline {
  readonly #child: ChildProcess;
  readonly #waiting = new Map<number, Waiting>();
  readonly #ended: Promise<void>;
  #calls = 0;
  #tail = '';
  #endedHow: string | undefined;

  private constructor(execArgv: readonly string[]) {
    // The same file extension as this one: .ts from the sources, .js once built.
    const extension = import.meta.url.slice(import.meta.url.lastIndexOf('.'));
    this.#child = fork(new URL(`./child${extension}`, import.meta.url), {
      execArgv: [...execArgv],
      serialization: 'advanced',
      // Out of the terminal's process group: Ctrl-C is the harness's to answer, and it still wants its export.
      detached: true,
      stdio: ['ignore', 'ignore', 'pipe', 'ipc'],
    });
    this.#child.stderr?.setEncoding('utf8').on('data', (text: string) => {
      this.#tail = (this.#tail + text).slice(-TAIL_CHARACTERS);
    });
    this.#child.on('message', (message) => this.#settle(message as Answer));
    this.#ended = new Promise((resolve) => {
      const end = (how: string): void => {
        this.#endedHow ??= how;
        for (const { reject } of this.#waiting.values()) reject(this.#gone());
        this.#waiting.clear();
        resolve();
      };
      // `close` comes after `exit`, once standard error has been read to its end.
      this.#child.on('close', (code, signal) => end(signal === null ? `exit code ${code}` : signal));
      this.#child.on('error', (error) => {
        if (this.#child.pid === undefined) end(error.message);
      });
    });
  }

  /**
   * Starts the process and the pipeline in it. Rejects with NotCompleted.
   * `execArgv`: Node options of the child, e.g. the loader that reads TypeScript; by default our own.
   */
  static async start(
    options: HostedOptions,
    execArgv: readonly string[] = process.execArgv,
  ): Promise<HostedPipeline> {
    const hosted = new HostedPipeline(execArgv);
    try {
      await hosted.#ask({ kind: 'start', options });
    } catch (error) {
      await hosted.kill();
      throw error;
    }
    return hosted;
  }

  async counts(): Promise<PipelineCounts> {
    return (await this.#ask({ kind: 'counts' })) as PipelineCounts;
  }

  async flush(): Promise<void> {
    await this.#ask({ kind: 'flush' });
  }

  async crash(): Promise<void> {
    await this.#ask({ kind: 'crash' });
  }

  async resume(): Promise<void> {
    await this.#ask({ kind: 'resume' });
  }

  async exportCsv(query: ExportQuery): Promise<{ rows: number }> {
    return (await this.#ask({ kind: 'export', query })) as { rows: number };
  }

  async exportRejects(file: string): Promise<{ rows: number }> {
    return (await this.#ask({ kind: 'exportRejects', file })) as { rows: number };
  }

  async close(): Promise<void> {
    if (this.#endedHow !== undefined) return;
    await this.#ask({ kind: 'close' });
    await this.#ended;
  }

  /** Ends the process at once (SIGKILL), as a crash does. Resolves when it is gone. */
  async kill(): Promise<void> {
    this.#child.kill('SIGKILL');
    await this.#ended;
  }

  #ask(request: Request): Promise<unknown> {
    if (this.#endedHow !== undefined) return Promise.reject(this.#gone());
    this.#calls += 1;
    const asked: Asked = { call: this.#calls, request };
    return new Promise((resolve, reject) => {
      this.#waiting.set(asked.call, { resolve, reject });
      // Where the child is dying, its `close` event settles the call, with the reason.
      this.#child.send(asked, () => {});
    });
  }

  #settle(answer: Answer): void {
    const waiting = this.#waiting.get(answer.call);
    this.#waiting.delete(answer.call);
    if (waiting === undefined) return;
    if (answer.ok) waiting.resolve(answer.value);
    else if (answer.error === 'BadInput') waiting.reject(new BadInput(answer.message));
    else waiting.reject(new NotCompleted(answer.message));
  }

  #gone(): NotCompleted {
    const tail = this.#tail.trim().replaceAll(/\s*\n\s*/g, ' | ');
    const words = tail === '' ? 'it said nothing on standard error' : `its last words: ${tail}`;
    return new NotCompleted(`the pipeline's process ended (${this.#endedHow}); ${words}`);
  }
}
