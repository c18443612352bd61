// Where the JSON Schema of the plain payload is.
import { fileURLToPath } from 'node:url';

/** File name of plain.schema.json. */
export function payloadSchemaFile(): string {
  return fileURLToPath(new URL('./plain.schema.json', import.meta.url));
}
