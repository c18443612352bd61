// Where this package is: the same answer from a checkout and from an installed copy.
import { existsSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { NotCompleted } from './errors.ts';

/** The folder that holds `scenarios/` and package.json. */
export function packageRoot(): string {
  let folder = dirname(fileURLToPath(import.meta.url));
  while (!existsSync(join(folder, 'scenarios', 'place'))) {
    const above = dirname(folder);
    if (above === folder)
      throw new NotCompleted('scenarios/place is missing where wayproof is installed: install it again.');
    folder = above;
  }
  return folder;
}
