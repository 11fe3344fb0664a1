/** Values from the command line (`path=value`) that replace values of the scene file before it is checked. */

import { FORBIDDEN_KEYS, readDocument } from './document.js';
import { type PathSegment, pathText, type SceneError, valueText } from './errors.js';
import { knownKeys, schemaAt, valueAt } from './explain.js';
import { fullSchema, type JsonSchema } from './json-schema.js';
import { nearest } from './nearest.js';
import { ALTERNATIVES } from './schema.js';

/** One value to set. A text segment on a list means the entry of that name. */
export interface Override {
  readonly path: readonly PathSegment[];
  readonly value: unknown;
  /** The option as the user wrote it. */
  readonly option: string;
}

export interface AppliedOverride {
  /** With names of list entries replaced by their numbers. */
  readonly path: readonly PathSegment[];
  readonly option: string;
}

export type OverrideOutcome =
  | { readonly ok: true; readonly override: Override }
  | { readonly ok: false; readonly error: SceneError };

export type PathOutcome =
  | { readonly ok: true; readonly path: readonly PathSegment[] }
  | { readonly ok: false; readonly error: SceneError };

function optionError(
  option: string,
  path: string,
  message: string,
  allowed?: string,
  suggestion?: string,
): SceneError {
  return {
    code: 'bad_option',
    path,
    message,
    ...(allowed === undefined ? {} : { allowed }),
    ...(suggestion === undefined ? {} : { suggestion }),
    line: null,
    column: null,
    endColumn: null,
    option,
  };
}

/**
 * Reads a path from the start of a text: words and quoted words joined by dots, numbers in brackets.
 * @returns its segments and where it ends; null where there is no path
 */
function scanPath(text: string): { path: PathSegment[]; end: number } | null {
  const pattern = /(\.?)(?:"((?:[^"\\]|\\.)*)"|'([^']*)'|\[(\d{1,6})\]|([^\s."'=[\]]+))/uy;
  const path: PathSegment[] = [];
  let end = 0;
  while (end < text.length && text[end] !== '=') {
    pattern.lastIndex = end;
    const match = pattern.exec(text);
    if (match === null) return null;
    const [, dot, doubleQuoted, singleQuoted, index, word] = match;
    const first = path.length === 0;
    const needsDot = !first && index === undefined;
    if ((dot === '.') !== needsDot || (first && index !== undefined)) return null;
    path.push(
      index === undefined ? (doubleQuoted?.replace(/\\(.)/gu, '$1') ?? singleQuoted ?? word) : Number(index),
    );
    end = pattern.lastIndex;
  }
  const forbidden = path.some((segment) => typeof segment === 'string' && FORBIDDEN_KEYS.has(segment));
  return path.length === 0 || forbidden ? null : { path, end };
}

const PATH_FORM =
  'a path such as films.roll_a.reflectance, rows.A.pitch_m, rows[0].pitch_m or films."roll.a".reflectance';

/**
 * Reads the path of a value: keys joined by dots; entries of a list by number in brackets (from 0) or by name; names with
 * dots in quotes.
 */
export function parsePath(text: string): PathOutcome {
  const scanned = scanPath(text);
  if (scanned === null || scanned.end !== text.length) {
    return { ok: false, error: optionError(text, '', `${valueText(text)} is not a path.`, PATH_FORM) };
  }
  return { ok: true, path: scanned.path };
}

/**
 * Reads `path=value`, e.g. `films.roll_a.reflectance=0.8`; the value is YAML on one line (a number, a word, a list or a
 * map in brackets). Whether path and value fit the scene shows in `loadScene`.
 */
export function parseOverride(text: string): OverrideOutcome {
  const scanned = scanPath(text);
  const refuse = (message: string, allowed: string): OverrideOutcome => ({
    ok: false,
    error: optionError(text, scanned === null ? '' : pathText(scanned.path), message, allowed),
  });
  if (scanned === null || text[scanned.end] !== '=') {
    return refuse(`${valueText(text)} is not of the form path=value.`, `${PATH_FORM}, then = and the value`);
  }
  const written = text.slice(scanned.end + 1);
  if (/[\n\r]/u.test(written)) return refuse('The value runs over several lines.', 'a value on one line');
  const read = readDocument(`value: ${written}`);
  const mistakes = read.ok ? read.document.problems : read.errors;
  if (!read.ok || mistakes.length > 0)
    return refuse(`The value cannot be read: ${mistakes[0].message}`, 'a YAML value');
  const { value } = read.document.data;
  if (written.trim() === '') return refuse('The value is missing.', 'a value after the =');
  return { ok: true, override: { path: scanned.path, value, option: text } };
}

/** @returns the override that sets a value at a path, e.g. one step of a sweep */
export function overrideAt(path: readonly PathSegment[], value: unknown): Override {
  return {
    path,
    value,
    option: `${pathText(path)}=${typeof value === 'object' ? JSON.stringify(value) : String(value)}`,
  };
}

type Data = Record<string, unknown>;

function isData(value: unknown): value is Data {
  return value !== null && typeof value === 'object' && !Array.isArray(value);
}

function entryNames(list: readonly unknown[]): readonly string[] {
  return list.flatMap((entry) => (isData(entry) && typeof entry.name === 'string' ? [entry.name] : []));
}

/** Groups of alternative keys that hold for the map at a path. */
function alternativesAt(path: readonly PathSegment[]): readonly (readonly (readonly string[])[])[] {
  if (path.length === 1 && path[0] === 'sun') return [ALTERNATIVES.sunDirection];
  if (path.length === 2 && path[0] === 'films') {
    return [ALTERNATIVES.reflectance, ALTERNATIVES.slopeError, ALTERNATIVES.specularity];
  }
  return [];
}

/**
 * Removes the keys that the new key replaces. One slope error is both directions, so when only one of the two is set, the
 * other keeps the common value.
 */
function replaceAlternatives(map: Data, path: readonly PathSegment[], key: string): void {
  for (const groups of alternativesAt(path)) {
    const own = groups.find((group) => group.includes(key));
    if (own === undefined) continue;
    if (groups === ALTERNATIVES.slopeError && map.slope_error_mrad !== undefined) {
      for (const side of own) if (side !== key) map[side] ??= map.slope_error_mrad;
    }
    for (const other of groups.filter((group) => group !== own).flat()) delete map[other];
  }
}

/** After a change of `kind` or `shape`: removes the keys that only the former kind has. */
function dropKeysOfFormerKind(
  root: JsonSchema,
  data: Data,
  map: Data,
  path: readonly PathSegment[],
  former: readonly string[],
): void {
  const now = knownKeys(root, data, path);
  if (now.length === 0) return;
  for (const key of former) if (!now.includes(key)) delete map[key];
}

/** What a missing map or list starts from when only a part of it is set: its default in the schema. */
function seedFor(schema: JsonSchema | undefined): unknown {
  if (schema?.default !== undefined && schema.default !== null) return structuredClone(schema.default);
  return schema?.type === 'array' ? null : {};
}

/** Applies one override; returns the path it set, with list entries by number, or the error. */
function applyOverride(
  schema: () => JsonSchema,
  data: Data,
  override: Override,
): AppliedOverride | SceneError {
  const { option } = override;
  const path: PathSegment[] = [];
  const fail = (message: string, allowed?: string, suggestion?: string) =>
    optionError(option, pathText(override.path), message, allowed, suggestion);
  let current: unknown = data;
  for (let depth = 0; depth < override.path.length; depth++) {
    const segment = override.path[depth];
    const last = depth === override.path.length - 1;
    const here = path.length === 0 ? 'The file' : pathText(path);
    if (Array.isArray(current)) {
      const names = entryNames(current);
      const index =
        typeof segment === 'number' ? segment : names.length === current.length ? names.indexOf(segment) : -1;
      if (index < 0 || index >= current.length) {
        const known = names.length > 0 ? names.join(', ') : `[0] to [${current.length - 1}]`;
        const suggestion = typeof segment === 'string' ? nearest(segment, names) : undefined;
        return fail(
          `${here} has no entry ${valueText(segment)}.`,
          current.length === 0 ? 'nothing: the list is empty' : known,
          suggestion,
        );
      }
      path.push(index);
      if (last) current[index] = structuredClone(override.value);
      else current = current[index];
    } else if (isData(current)) {
      if (typeof segment === 'number') return fail(`${here} is not a list.`);
      const exists = Object.hasOwn(current, segment);
      const changesKind = last && (segment === 'kind' || segment === 'shape');
      // A value put in the place of another, as at each point of a sweep, asks nothing of the schema.
      const known = exists && !changesKind ? [] : knownKeys(schema(), data, path);
      if (!exists && known.length === 0) {
        const names = Object.keys(current);
        return fail(`${here} has no entry ${valueText(segment)}.`, names.join(', '), nearest(segment, names));
      }
      const parent = [...path];
      path.push(segment);
      if (last) {
        current[segment] = structuredClone(override.value);
        replaceAlternatives(current, parent, segment);
        if (changesKind) dropKeysOfFormerKind(schema(), data, current, parent, known);
      } else if (exists) {
        current = current[segment];
      } else {
        // An unknown key is left for the schema to report, which knows units and the nearest key.
        if (!known.includes(segment)) {
          current[segment] = null;
          return { path, option };
        }
        const seed = seedFor(schemaAt(schema(), data, path));
        if (seed === null) {
          return fail(
            `${pathText(path)} is not in the file, so no single entry of it can be set.`,
            'the whole list',
          );
        }
        current[segment] = seed;
        replaceAlternatives(current, parent, segment);
        current = seed;
      }
    } else {
      return fail(`${here} is ${valueText(current)}: there is nothing inside it.`);
    }
  }
  return { path, option };
}

/**
 * Sets values in the plain data of a file (changing it). A key that is absent but known is created; setting a key of one
 * group of alternatives removes the others (`slope_error_mrad` replaces the along and across keys, and the other way round);
 * setting `kind` removes the keys of the former kind.
 * @param schema of the file, for the keys that are not in it
 * @returns the paths set, and an error for each override that leads nowhere
 */
export function applyOverrides(
  data: Data,
  overrides: readonly Override[],
  schema: () => JsonSchema = fullSchema().json,
): { applied: readonly AppliedOverride[]; errors: readonly SceneError[] } {
  const applied: AppliedOverride[] = [];
  const errors: SceneError[] = [];
  for (const override of overrides) {
    const outcome = applyOverride(schema, data, override);
    if ('code' in outcome) errors.push(outcome);
    else applied.push(outcome);
  }
  return { applied, errors };
}

export type NumberOutcome =
  /** `value` is null where the file leaves the key to its default. */
  | {
      readonly ok: true;
      readonly value: number | null;
      readonly allowed: { readonly min: number; readonly max: number };
    }
  | { readonly ok: false; readonly errors: readonly SceneError[] };

function isNumeric(schema: JsonSchema | undefined): boolean {
  const branches = schema?.anyOf ?? schema?.oneOf ?? [];
  return schema?.type === 'number' || schema?.type === 'integer' || branches.some(isNumeric);
}

/**
 * Checks that a path of a scene holds a number, so that a sweep can vary it.
 * @param path e.g. from `parsePath`
 * @param overrides applied first
 * @param schemaOf the file
 * @returns the number in the file with the range of its key, or what is wrong with the path
 */
export function numberAt(
  text: string,
  path: readonly PathSegment[],
  overrides: readonly Override[] = [],
  schemaOf: () => JsonSchema = fullSchema().json,
): NumberOutcome {
  const read = readDocument(text);
  if (!read.ok) return read;
  const { data } = read.document;
  const root = schemaOf();
  const { errors } = applyOverrides(data, overrides, schemaOf);
  if (errors.length > 0) return { ok: false, errors };
  const before = structuredClone(data);
  const option = pathText(path);
  const outcome = applyOverride(schemaOf, data, { path, value: 0, option });
  if ('code' in outcome) return { ok: false, errors: [outcome] };
  const parent = outcome.path.slice(0, -1);
  const key = outcome.path.at(-1);
  const schema = schemaAt(root, data, outcome.path);
  const value = valueAt(before, outcome.path);
  if (schema === undefined || outcome.path.length < path.length) {
    const known = knownKeys(root, data, parent);
    const error = optionError(
      option,
      option,
      `There is no key ${option} in a scene.`,
      known.join(', '),
      nearest(String(key), known),
    );
    return { ok: false, errors: [error] };
  }
  if (!isNumeric(schema) || (value !== undefined && value !== null && typeof value !== 'number')) {
    return {
      ok: false,
      errors: [optionError(option, option, `${option} is not a single number.`, 'the path of a number')],
    };
  }
  const range = [schema, ...(schema.anyOf ?? schema.oneOf ?? [])].find(
    (branch) => branch.minimum !== undefined,
  );
  return {
    ok: true,
    value: typeof value === 'number' ? value : null,
    allowed: {
      min: range?.minimum ?? Number.NEGATIVE_INFINITY,
      max: range?.maximum ?? Number.POSITIVE_INFINITY,
    },
  };
}
