/** The JSON Schema as it is printed and written. */
import { sceneJsonSchema } from '../scene/json-schema.js';

/** @returns JSON, two spaces, a line feed at its end */
export function schemaText(): string {
  return `${JSON.stringify(sceneJsonSchema(), null, 2)}\n`;
}
