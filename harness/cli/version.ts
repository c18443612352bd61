// The version of this package, from its own package.json.
import { readFileSync } from 'node:fs';
import { packageRoot } from '../../sim/index.ts';
import { join } from 'node:path';

export const VERSION: string = (
  JSON.parse(readFileSync(join(packageRoot(), 'package.json'), 'utf8')) as { version: string }
).version;
