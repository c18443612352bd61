// The folder of one run: evidence first, verdict last. It can be judged again, with the place if that isn't built in.
import { existsSync, mkdirSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { basename, dirname, extname, join } from 'node:path';
import { BadInput } from '../../sim/index.ts';

export interface RunFolder {
  readonly path: string;
  readonly scenario: string;
  readonly contract: string;
  readonly run: string;
  readonly ledger: string;
  readonly tap: string;
  readonly store: string;
  readonly whole: string;
  readonly again: string;
  readonly rejects: string;
  readonly result: string;
  window(k: number): string;
}

export function runFolder(path: string): RunFolder {
  return {
    path,
    scenario: join(path, 'scenario.yaml'),
    contract: join(path, 'contract.yaml'),
    run: join(path, 'run.json'),
    ledger: join(path, 'ledger.ndjson'),
    tap: join(path, 'tap.ndjson'),
    store: join(path, 'store.sqlite'),
    whole: join(path, 'export.csv'),
    again: join(path, 'export-again.csv'),
    rejects: join(path, 'rejects.csv'),
    result: join(path, 'result.json'),
    window: (k) => join(path, `window-${k + 1}.csv`),
  };
}

/** Makes a new folder for a run: the one asked for, else `runs/<scenario>`, `runs/<scenario>-2`, … */
export function newRunFolder(scenarioFile: string, asked: string | undefined): RunFolder {
  const name = basename(scenarioFile, extname(scenarioFile));
  const path = asked ?? firstFree(join('runs', name));
  try {
    if (existsSync(path) && readdirSync(path).length > 0) {
      throw new BadInput(
        `--out ${path}: expected a new or empty folder, found one with files in it. Mend: name another folder.`,
      );
    }
    makeFolder(path);
    // Asks the file system itself: root may write where the mode says no, and a full disk says no to root.
    writeFileSync(join(path, 'run.json'), '');
  } catch (error) {
    if (error instanceof BadInput) throw error;
    const code = (error as NodeJS.ErrnoException).code ?? 'an error';
    throw new BadInput(
      `--out ${path}: expected a folder that can be written, found ${code}. Mend: name another with --out.`,
    );
  }
  return runFolder(path);
}

/** Takes a run's folder away again, when the run couldn't start: it was new or empty, and nothing half written stays. */
export function removeRunFolder(folder: RunFolder): void {
  rmSync(folder.path, { recursive: true, force: true });
}

/** With its parents. Not mkdir's own `recursive`, which never returns below /proc (Node 20). */
function makeFolder(path: string): void {
  if (existsSync(path)) return;
  const above = dirname(path);
  if (above !== path) makeFolder(above);
  mkdirSync(path);
}

function firstFree(path: string): string {
  for (let k = 1; ; k++) {
    const candidate = k === 1 ? path : `${path}-${k}`;
    if (!existsSync(candidate)) return candidate;
  }
}
