// An append-only file of JSON lines. A crash cuts at most the last line, and a reader can tell.
import { createReadStream } from 'node:fs';
import { open, type FileHandle } from 'node:fs/promises';
import { BadInput, NotCompleted } from '../errors.ts';

/** Text is handed to the file in pieces of about this size, so that a line costs no system call. */
const PIECE_CHARS = 64 * 1024;

export class JournalWriter {
  readonly #file: string;
  readonly #handle: FileHandle;
  #text = '';
  #writing: Promise<void> | undefined;
  #failure: Error | undefined;

  private constructor(file: string, handle: FileHandle) {
    this.#file = file;
    this.#handle = handle;
  }

  /** Opens `file` anew. BadInput where the place can't be written to. */
  static async create(file: string): Promise<JournalWriter> {
    try {
      return new JournalWriter(file, await open(file, 'w'));
    } catch (error) {
      throw new BadInput(
        `${file}: expected a place that can be written to, found ${codeOf(error)}. Mend: give another folder.`,
      );
    }
  }

  /** Adds one line of JSON, without its line end. Trouble with the disk shows at `flush` and `close`. */
  line(json: string): void {
    this.#text += `${json}\n`;
    if (this.#text.length >= PIECE_CHARS) this.#start();
  }

  #start(): void {
    if (this.#writing || this.#failure || this.#text === '') return;
    const text = this.#text;
    this.#text = '';
    this.#writing = this.#handle
      .appendFile(text)
      .catch((error: unknown) => {
        this.#failure = error instanceof Error ? error : new Error(String(error));
      })
      .then(() => {
        this.#writing = undefined;
        if (this.#text.length >= PIECE_CHARS) this.#start();
      });
  }

  /** Writes out what has come in so far. NotCompleted when the disk refuses (full, gone). */
  async flush(): Promise<void> {
    while (!this.#failure && (this.#writing || this.#text !== '')) {
      this.#start();
      await this.#writing;
    }
    if (this.#failure) {
      throw new NotCompleted(`${this.#file} couldn't be written: ${codeOf(this.#failure)}.`);
    }
  }

  async close(): Promise<void> {
    try {
      await this.flush();
    } finally {
      await this.#handle.close();
    }
  }
}

/** One complete line of a journal. */
export interface JournalLine {
  /** From 1. */
  readonly number: number;
  readonly value: Readonly<Record<string, unknown>>;
}

/** Reads a journal line by line. `cut` is known once `lines` has ended. */
export class JournalReader {
  readonly #file: string;
  /** The file ends in the middle of a line: its writer didn't get to finish. */
  cut = false;

  constructor(file: string) {
    this.#file = file;
  }

  /** Every complete line. A cut tail is left out; anything else that isn't a JSON object is BadInput. */
  async *lines(): AsyncGenerator<JournalLine, void> {
    let rest = '';
    let number = 0;
    try {
      for await (const chunk of createReadStream(this.#file, 'utf8')) {
        rest += String(chunk);
        let from = 0;
        for (let to = rest.indexOf('\n', from); to >= 0; to = rest.indexOf('\n', from)) {
          number += 1;
          yield { number, value: this.#parse(rest.slice(from, to), number) };
          from = to + 1;
        }
        rest = rest.slice(from);
      }
    } catch (error) {
      if (error instanceof BadInput || !(error instanceof Error) || !('code' in error)) throw error;
      throw new BadInput(
        `${this.#file}: expected a readable file, found ${codeOf(error)}. Mend: check the name.`,
      );
    }
    this.cut = rest !== '';
  }

  #parse(text: string, line: number): Readonly<Record<string, unknown>> {
    try {
      const value: unknown = JSON.parse(text);
      if (typeof value === 'object' && value !== null && !Array.isArray(value)) return { ...value };
    } catch {
      // Said below, with the place.
    }
    throw BadInput.at(
      { file: this.#file, line },
      'a JSON object',
      JSON.stringify(text.slice(0, 40)),
      'the file was changed by hand or isn’t a journal; run again',
    );
  }
}

function codeOf(error: unknown): string {
  if (error instanceof Error && 'code' in error) return String(error.code);
  return error instanceof Error ? error.message : String(error);
}
