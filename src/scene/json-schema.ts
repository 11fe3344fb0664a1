/** The scene file's JSON Schema, for completion and checking in editors. */
import { z } from 'zod';
import { sceneFileSchema } from './schema.js';

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

/** @returns the scene file's schema as JSON Schema draft 7 (the draft that YAML editors read), defaults not required */
export function sceneJsonSchema(): JsonSchema {
  return z.toJSONSchema(sceneFileSchema, { target: 'draft-7', io: 'input' }) as JsonSchema;
}

/** @returns a way to the schema that builds it when it is first asked for, and once: it takes longer than reading a scene */
export function schemaOnDemand(): () => JsonSchema {
  let built: JsonSchema | null = null;
  return () => {
    built ??= sceneJsonSchema();
    return built;
  };
}
