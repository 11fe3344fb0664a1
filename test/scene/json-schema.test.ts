import { readdirSync, readFileSync } from 'node:fs';
import { Ajv } from 'ajv';
import { describe, expect, it } from 'vitest';
import { parse } from 'yaml';
import { type JsonSchema, sceneJsonSchema } from '../../src/scene/json-schema.js';
import { sceneTemplate } from '../../src/scene/template.js';

const EXAMPLES = new URL('./examples/', import.meta.url);

/** Every schema below the root with its dotted place. */
function walk(schema: JsonSchema, at: string): { at: string; schema: JsonSchema }[] {
  const below = Object.entries(schema.properties ?? {}).flatMap(([key, part]) => walk(part, `${at}.${key}`));
  const branches = [...(schema.anyOf ?? []), ...(schema.oneOf ?? [])].flatMap((part) => walk(part, at));
  const items = [schema.items ?? []].flat().flatMap((part) => walk(part as JsonSchema, `${at}[]`));
  const named =
    typeof schema.additionalProperties === 'object' ? walk(schema.additionalProperties, `${at}.*`) : [];
  return [{ at, schema }, ...below, ...branches, ...items, ...named];
}

describe('the JSON Schema', () => {
  const schema = sceneJsonSchema();
  const validate = new Ajv({ strict: true, allowUnionTypes: true, strictTuples: false }).compile(schema);
  const parts = walk(schema, '');

  it('is draft 7', () => {
    expect(schema).toMatchObject({
      $schema: 'http://json-schema.org/draft-07/schema#',
      title: 'rowfocus scene',
    });
  });

  it('accepts the template and every example', () => {
    const texts = readdirSync(EXAMPLES).map((name) => readFileSync(new URL(name, EXAMPLES), 'utf8'));
    for (const text of [sceneTemplate(), ...texts]) {
      expect(validate(parse(text)), JSON.stringify(validate.errors)).toBe(true);
    }
  });

  it.each([
    ['bounce_limit: 4', 'bounce_limit: 40'],
    ['reflectance: 0.84', 'reflectence: 0.84'],
    ['kind: circumsolar ', 'kind: square '],
    ['diameter_m: 0.18', 'diameter_m: wide'],
  ])('refuses %s turned into %s', (from, to) => {
    const text = sceneTemplate().replace(from, to);
    expect(text).not.toBe(sceneTemplate());
    expect(validate(parse(text))).toBe(false);
  });

  it('describes every key, for completion in editors', () => {
    const keys = parts.flatMap(({ at, schema: part }) =>
      Object.entries(part.properties ?? {}).map(([key, property]) => ({ at: `${at}.${key}`, property })),
    );
    expect(keys.length).toBeGreaterThan(100);
    // The kinds of a union are described by their branch.
    const bare = keys.filter(({ property }) => !property.description && property.const === undefined);
    expect(bare.map(({ at }) => at)).toEqual([]);
  });

  it('bounds every number, list and text', () => {
    const open = parts.filter(({ schema: part }) => {
      if (part.type === 'number' || part.type === 'integer') {
        return part.minimum === undefined || part.maximum === undefined || part.maximum > 1e9;
      }
      if (part.type === 'array') return part.maxItems === undefined;
      if (part.type === 'string') return !part.pattern && !part.enum && part.const === undefined;
      if (part.type === 'object') return part.additionalProperties === undefined;
      return false;
    });
    expect(open.map(({ at }) => at)).toEqual([]);
  });

  it('gives examples that it accepts itself', () => {
    const ajv = new Ajv({ strict: false });
    for (const { at, schema: part } of parts) {
      for (const example of part.examples ?? []) {
        expect(ajv.validate(part, example), `${at}: ${JSON.stringify(example)}`).toBe(true);
      }
    }
  });
});
