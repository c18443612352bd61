// The state machine of RFC 4180 section 2, fed with chunks of any size.
import { Buffer } from 'node:buffer';
import { BadInput } from '../../sim/index.ts';
import { CellTable, firstBadUtf8 } from './cells.ts';
import type { CsvBatch, CsvFlaw, CsvFlawKind, CsvRecord, CsvRules } from './flaws.ts';

const LF = 0x0a;
const CR = 0x0d;
const QUOTE = 0x22;

/** Classes of bytes; everything else is 0. */
const DELIMITER = 1;
const LINE = 2;
const QUOTED = 3;
const ODD = 4;

type State =
  /** Before the first byte of a cell. */
  | 'cell-start'
  | 'plain'
  | 'quoted'
  /** After a quote inside a quoted cell: the closing one, or the first of two. */
  | 'quote-seen'
  /** After text that follows a closing quote: plain, but quotes were already found fault with. */
  | 'tail'
  /** After a CR outside quotes. */
  | 'cr-seen';

const NO_BATCH: CsvBatch = { records: [], flaws: [] };

/** Turns chunks into batches. After `stopped` is true, nothing more is read. */
export class CsvScanner {
  stopped = false;
  readonly #rules: CsvRules;
  readonly #maxBytes: number;
  readonly #class = new Uint8Array(256);
  readonly #cells = new CellTable();
  /** The bytes being read, from the start of the current record at the latest, and how many they are. */
  #buf: Buffer = Buffer.alloc(0);
  #length = 0;
  /** Where a record that spans chunks is put together. */
  #own: Buffer = Buffer.alloc(0);
  /** File offset of the buffer's first byte. */
  #base = 0;
  #pos = 0;
  #state: State = 'cell-start';
  #begun = false;
  /** Start of the current record in the buffer, its number and its line. */
  #start = 0;
  #record = 1;
  #startLine = 1;
  #line = 1;
  #fieldCount = -1;
  #noneQuoted: readonly boolean[] = [];
  #records: CsvRecord[] = [];
  #flaws: CsvFlaw[] = [];
  /** Flaws of the current record; dropped when the record turns out too long to be trusted. */
  #recordFlaws: CsvFlaw[] = [];

  constructor(rules: CsvRules, maxBytes: number) {
    const code = rules.delimiter.charCodeAt(0);
    if (rules.delimiter.length !== 1 || code > 0x7f || code === QUOTE || code === CR || code === LF) {
      throw new BadInput(
        `CSV delimiter: expected one ASCII character other than a quote or line end, found ${JSON.stringify(rules.delimiter)}. Mend: use "," or ";".`,
      );
    }
    this.#rules = rules;
    this.#maxBytes = maxBytes;
    this.#class.fill(ODD, 0x80);
    this.#class[0] = ODD;
    this.#class[LF] = LINE;
    this.#class[CR] = LINE;
    this.#class[QUOTE] = QUOTED;
    this.#class[code] = DELIMITER;
  }

  /** Reads a chunk; gives the records that it completes. */
  push(chunk: Uint8Array): CsvBatch {
    if (this.stopped) return NO_BATCH;
    this.#append(chunk);
    if (!this.#begun && !this.#begin(false)) return NO_BATCH;
    this.#scan();
    if (!this.stopped && this.#length - this.#start > this.#maxBytes) this.#tooLong();
    return this.#take();
  }

  /** Ends the file; gives the last record, if the file doesn't end with a line end. */
  finish(): CsvBatch {
    if (this.stopped) return NO_BATCH;
    if (!this.#begun) {
      this.#begin(true);
      this.#scan();
    }
    if (this.#record === 1 && this.#start === this.#length) {
      this.#noteFile('empty-file', this.#start, 'the file has no bytes of text');
    } else if (this.#state === 'cr-seen') {
      this.#loneCr();
    } else if (this.#start < this.#length) {
      this.#cutEnd();
    }
    this.stopped = true;
    return this.#take();
  }

  #take(): CsvBatch {
    const batch = { records: this.#records, flaws: this.#flaws };
    this.#records = [];
    this.#flaws = [];
    return batch;
  }

  /** Puts the chunk behind what is left of the current record. */
  #append(chunk: Uint8Array): void {
    const kept = this.#length - this.#start;
    if (kept === 0) {
      this.#moveBase();
      this.#buf = Buffer.from(chunk.buffer, chunk.byteOffset, chunk.byteLength);
      this.#length = chunk.length;
      return;
    }
    const needed = kept + chunk.length;
    // Doubling keeps a record that arrives in many small chunks linear.
    const room = needed <= this.#own.length ? this.#own : Buffer.allocUnsafe(Math.max(needed * 2, 4096));
    this.#buf.copy(room, 0, this.#start, this.#length);
    room.set(chunk, kept);
    this.#moveBase();
    this.#own = room;
    this.#buf = room;
    this.#length = needed;
  }

  #moveBase(): void {
    this.#cells.shift(this.#start);
    this.#base += this.#start;
    this.#pos -= this.#start;
    this.#start = 0;
  }

  /** Settles the byte order mark. False while too few bytes are there to tell. */
  #begin(ended: boolean): boolean {
    const mark = [0xef, 0xbb, 0xbf];
    const seen = this.#buf.subarray(0, Math.min(3, this.#length));
    const like = mark.slice(0, seen.length).every((byte, i) => seen[i] === byte);
    if (like && seen.length < 3 && !ended) return false;
    const found = like && seen.length === 3;
    if (found && this.#rules.byteOrderMark === 'none') {
      this.#noteFile('byte-order-mark', 0, 'the file begins with a byte order mark; none is promised');
    }
    if (!found && this.#rules.byteOrderMark === 'required') {
      this.#noteFile('byte-order-mark', 0, 'the file begins without the byte order mark that is promised');
    }
    if (found) {
      this.#start = 3;
      this.#pos = 3;
    }
    this.#begun = true;
    return true;
  }

  #scan(): void {
    const buf = this.#buf;
    const classes = this.#class;
    const length = this.#length;
    const cells = this.#cells;
    while (this.#pos < length && !this.stopped) {
      let pos = this.#pos;
      switch (this.#state) {
        case 'cell-start':
          if (buf[pos] === QUOTE) {
            cells.open(pos + 1, true);
            this.#state = 'quoted';
            this.#pos = pos + 1;
          } else {
            cells.open(pos, false);
            this.#state = 'plain';
          }
          break;
        case 'plain':
        case 'tail': {
          for (;;) {
            while (pos < length && classes[buf[pos] ?? 0] === 0) pos += 1;
            // The common case, kept in this loop: one plain cell after another.
            if (pos + 1 >= length || classes[buf[pos] ?? 0] !== DELIMITER || buf[pos + 1] === QUOTE) break;
            cells.end(pos);
            pos += 1;
            cells.open(pos, false);
            this.#state = 'plain';
          }
          this.#pos = pos;
          if (pos < length) this.#plainSpecial(buf[pos] ?? 0, pos);
          break;
        }
        case 'quoted': {
          while (pos < length && buf[pos] !== QUOTE) {
            const byte = buf[pos] ?? 0;
            if (byte === LF) this.#line += 1;
            else if (byte >= 0x80) cells.noteHigh();
            else if (byte === 0) this.#noteNul(pos);
            pos += 1;
          }
          if (pos < length) {
            this.#state = 'quote-seen';
            pos += 1;
          }
          this.#pos = pos;
          break;
        }
        case 'quote-seen':
          this.#afterQuote(buf[pos] ?? 0, pos);
          break;
        case 'cr-seen':
          if (buf[pos] === LF) {
            this.#pos = pos + 1;
            if (this.#rules.lineEnd === 'lf') {
              this.#note('wrong-line-end', pos - 1, 'the line ends with CRLF; LF is promised');
            }
            this.#endRecord(true);
          } else {
            this.#loneCr();
          }
          break;
      }
    }
  }

  /** A byte of a class of its own, in a cell without quotes. */
  #plainSpecial(byte: number, pos: number): void {
    this.#pos = pos + 1;
    if (byte === LF || byte === CR) {
      this.#endLine(byte, pos);
    } else if (byte === QUOTE) {
      if (this.#state === 'plain') {
        this.#note('bare-quote', pos, 'a quote stands inside a cell that is not in quotes');
      }
    } else if (byte >= 0x80) {
      this.#cells.noteHigh();
    } else if (byte === 0) {
      this.#noteNul(pos);
    } else {
      this.#cells.end(pos);
      this.#state = 'cell-start';
    }
  }

  /** The byte after a quote inside a quoted cell. */
  #afterQuote(byte: number, pos: number): void {
    if (byte === QUOTE) {
      this.#cells.noteDoubled();
      this.#state = 'quoted';
      this.#pos = pos + 1;
      return;
    }
    this.#cells.noteClose(pos - 1);
    const kind = this.#class[byte];
    if (kind === DELIMITER) {
      this.#cells.end(pos);
      this.#state = 'cell-start';
      this.#pos = pos + 1;
    } else if (kind === LINE) {
      this.#pos = pos + 1;
      this.#endLine(byte, pos);
    } else {
      this.#note('text-after-quote', pos, 'text stands between a closing quote and the delimiter');
      this.#state = 'tail';
    }
  }

  /** LF or CR at `pos`, outside quotes: the last cell ends. */
  #endLine(byte: number, pos: number): void {
    this.#cells.end(pos);
    if (byte === CR) {
      this.#state = 'cr-seen';
      return;
    }
    if (this.#rules.lineEnd === 'crlf') {
      this.#note('wrong-line-end', pos, 'the line ends with LF; CRLF is promised');
    }
    this.#endRecord(true);
  }

  /** A CR without LF ends the record all the same: most readers take it so. */
  #loneCr(): void {
    this.#note('wrong-line-end', this.#pos - 1, 'a CR stands without LF outside quotes');
    this.#endRecord(true);
  }

  /** The file ends without a line end, which the last record may (RFC 4180 section 2, rule 2). */
  #cutEnd(): void {
    if (this.#state === 'cell-start') this.#cells.open(this.#length, false);
    if (this.#state === 'quote-seen') this.#cells.noteClose(this.#length - 1);
    if (this.#state === 'quoted') {
      const words = 'the file ends inside a quoted cell of this record';
      this.#note('unclosed-quote', this.#start, words, this.#startLine);
    }
    this.#cells.end(this.#length);
    this.#pos = this.#length;
    this.#endRecord(false);
  }

  #endRecord(lineEnd: boolean): void {
    if (this.#pos - this.#start > this.#maxBytes) {
      this.#tooLong();
      return;
    }
    const cells = this.#cells;
    const count = cells.count;
    if (cells.anyHigh) {
      const bad = firstBadUtf8(this.#buf, this.#start, this.#pos);
      if (bad >= 0) {
        let line = this.#startLine;
        for (let i = this.#start; i < bad; i += 1) if (this.#buf[i] === LF) line += 1;
        this.#note('bad-utf8', bad, 'these bytes are not UTF-8', line);
      }
    }
    if (this.#fieldCount < 0) {
      this.#fieldCount = count;
      this.#noneQuoted = Object.freeze(new Array<boolean>(count).fill(false));
    } else if (count !== this.#fieldCount) {
      const words = `${count} field${count === 1 ? '' : 's'} where the first record has ${this.#fieldCount}`;
      if (!lineEnd && count < this.#fieldCount) {
        this.#note('cut-row', this.#start, `the file ends within a row: ${words}`, this.#startLine);
      } else {
        this.#note('field-count', this.#start, words, this.#startLine);
      }
    }
    const none = count === this.#noneQuoted.length ? this.#noneQuoted : new Array<boolean>(count).fill(false);
    this.#records.push({
      record: this.#record,
      byteOffset: this.#base + this.#start,
      line: this.#startLine,
      cells: cells.texts(this.#buf),
      quoted: cells.quoted() ?? none,
    });
    if (this.#recordFlaws.length > 0) this.#flaws.push(...this.#recordFlaws.splice(0));
    this.#record += 1;
    if (lineEnd) this.#line += 1;
    this.#startLine = this.#line;
    this.#start = this.#pos;
    this.#state = 'cell-start';
    cells.clear();
  }

  #tooLong(): void {
    this.#recordFlaws = [];
    const words = `the record is longer than ${this.#maxBytes} bytes; reading stops here`;
    this.#note('record-too-long', this.#start, words, this.#startLine);
    this.#flaws.push(...this.#recordFlaws.splice(0));
    this.stopped = true;
  }

  #noteNul(pos: number): void {
    this.#note('nul-byte', pos, 'a NUL byte stands in the text');
  }

  /** Each kind once in a record: a record of garbage may be long. */
  #note(kind: CsvFlawKind, pos: number, words: string, line = this.#line): void {
    if (this.#recordFlaws.some((flaw) => flaw.kind === kind)) return;
    this.#recordFlaws.push({ kind, record: this.#record, byteOffset: this.#base + pos, line, words });
  }

  #noteFile(kind: CsvFlawKind, byteOffset: number, words: string): void {
    this.#flaws.push({ kind, record: 0, byteOffset, line: 1, words });
  }
}
