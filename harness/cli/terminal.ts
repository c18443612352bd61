// The only file that knows what stdout and stderr are.
import type { Style } from '../report/terminal.ts';

export function style(stream: NodeJS.WriteStream): Style {
  const colour = stream.isTTY && process.env['NO_COLOR'] === undefined && process.env['TERM'] !== 'dumb';
  return { colour, width: Math.min(stream.columns ?? 100, 110) };
}

export function print(text: string): void {
  process.stdout.write(text.endsWith('\n') ? text : `${text}\n`);
}

export function complain(text: string): void {
  process.stderr.write(`${text}\n`);
}

/** One line that is rewritten in place, on a terminal only. */
export class Progress {
  readonly #on: boolean;
  #shownAtMs = 0;

  constructor(quiet: boolean) {
    this.#on = !quiet && process.stderr.isTTY;
  }

  /** At most ten times a second; `line` is only asked for when it will be shown. */
  show(line: () => string): void {
    if (!this.#on) return;
    const nowMs = Date.now();
    if (nowMs - this.#shownAtMs < 100) return;
    this.#shownAtMs = nowMs;
    const text = line().slice(0, (process.stderr.columns ?? 100) - 1);
    process.stderr.write(`\r\u001b[2K${text}`);
  }

  clear(): void {
    if (this.#on) process.stderr.write('\r\u001b[2K');
  }
}
