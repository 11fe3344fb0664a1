/** The scene file's schema as the schema package has it, and as JSON Schema, for completion and checking in editors. */
import { createRequire } from 'node:module';
import type { z } from 'zod';
import { type SceneFile, sceneFileSchema } from './schema.js';

/** The part of a JSON Schema (draft 7) that this program writes and reads back. */
export interface JsonSchema {
  readonly type?: string;
  readonly description?: string;
  readonly default?: unknown;
  readonly const?: unknown;
  readonly enum?: readonly unknown[];
  readonly minimum?: number;
  readonly maximum?: number;
  readonly minItems?: number;
  readonly maxItems?: number;
  readonly pattern?: string;
  readonly examples?: readonly unknown[];
  readonly properties?: Readonly<Record<string, JsonSchema>>;
  readonly required?: readonly string[];
  readonly additionalProperties?: boolean | JsonSchema;
  readonly propertyNames?: JsonSchema;
  readonly items?: JsonSchema | readonly JsonSchema[];
  readonly anyOf?: readonly JsonSchema[];
  readonly oneOf?: readonly JsonSchema[];
}

/** The schema package. Read only where it is wanted: a scene without mistakes does without it. */
function schemaPackage(): typeof z {
  return (createRequire(import.meta.url)('zod') as typeof import('zod')).z;
}

/** @returns the scene file's schema as JSON Schema draft 7 (the draft that YAML editors read), defaults not required */
export function sceneJsonSchema(): JsonSchema {
  return fullSchema().json();
}

/** The scene file's schema with all it can say. */
export interface FullSchema {
  /** @returns the file with its defaults filled in, or what is wrong with it */
  readonly check: (data: unknown) => z.ZodSafeParseResult<SceneFile>;
  readonly json: () => JsonSchema;
}

/** @returns the schema, each part of which is built when it is first asked for, and once: that takes longer than reading a scene */
export function fullSchema(): FullSchema {
  let built: ReturnType<typeof sceneFileSchema> | null = null;
  let json: JsonSchema | null = null;
  const schema = () => {
    built ??= sceneFileSchema(schemaPackage());
    return built;
  };
  return {
    check: (data) => schema().safeParse(data),
    json: () => {
      json ??= schemaPackage().toJSONSchema(schema(), { target: 'draft-7', io: 'input' }) as JsonSchema;
      return json;
    },
  };
}
