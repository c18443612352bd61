// JSON pointers (RFC 6901).

/** The pointer of a key or index below another. */
export function below(pointer: string, ...parts: readonly (string | number)[]): string {
  return parts.reduce<string>(
    (path, part) => `${path}/${String(part).replaceAll('~', '~0').replaceAll('/', '~1')}`,
    pointer,
  );
}

/** The unescaped parts of a pointer; none for the whole document. */
export function pointerParts(pointer: string): readonly string[] {
  if (pointer === '') return [];
  return pointer
    .slice(1)
    .split('/')
    .map((part) => part.replaceAll('~1', '/').replaceAll('~0', '~'));
}
