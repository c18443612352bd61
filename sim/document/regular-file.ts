// Files that can be read from end to end: a pipe or a device would be waited for without an end.
import { statSync } from 'node:fs';
import { BadInput } from '../errors.ts';

const WHY_NOT: Readonly<Record<string, string>> = {
  ENOENT: 'nothing there',
  ENOTDIR: 'nothing there',
  EISDIR: 'a folder',
  EACCES: 'no right to read it',
  EPERM: 'no right to read it',
  ELOOP: 'links that go round in a circle',
  ENAMETOOLONG: 'a name that is too long',
};

/** Why a file can't be opened, in words; undefined where the fault isn't one of its name. */
export function whyUnreadable(error: unknown): string | undefined {
  return error instanceof Error && 'code' in error ? WHY_NOT[String(error.code)] : undefined;
}

/**
 * Size of a regular file in bytes.
 * @throws BadInput, as `expected` words it, where there is none of this name, or something else.
 */
export function regularFileBytes(file: string, expected: string, mend: string): number {
  let stat;
  try {
    stat = statSync(file);
  } catch (error) {
    throw BadInput.at({ file }, expected, whyUnreadable(error) ?? String(error), mend);
  }
  if (stat.isFile()) return stat.size;
  const found = stat.isDirectory() ? 'a folder' : 'a pipe, socket or device';
  throw BadInput.at({ file }, expected, found, mend);
}
