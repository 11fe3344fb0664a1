/** Schema issues in the builder's words: what is wrong, what is allowed, and the nearest known key. */
import type { z } from 'zod';
import { MAX_ERRORS, type PathSegment, type Problem, pathText, valueText } from './errors.js';
import type { JsonSchema } from './json-schema.js';
import { nearest } from './nearest.js';

type Path = readonly PathSegment[];
type Issue = z.core.$ZodIssue;

interface KeyUnit {
  readonly unit: string;
  /** Size of the unit in the quantity's base unit, where one can be turned into the other by a factor. */
  readonly factor: number | null;
  readonly quantity: string;
}

/** Ends of keys that name a unit, the longer first. */
const KEY_UNITS: readonly (readonly [string, KeyUnit])[] = [
  ['kw_m2', { unit: 'kW/m2', factor: 1000, quantity: 'irradiance' }],
  ['w_m2', { unit: 'W/m2', factor: 1, quantity: 'irradiance' }],
  ['urad', { unit: 'urad', factor: 1e-6, quantity: 'angle' }],
  ['mrad', { unit: 'mrad', factor: 1e-3, quantity: 'angle' }],
  ['rad', { unit: 'rad', factor: 1, quantity: 'angle' }],
  ['arcmin', { unit: 'arcmin', factor: Math.PI / 10_800, quantity: 'angle' }],
  ['degrees', { unit: 'degrees', factor: Math.PI / 180, quantity: 'angle' }],
  ['deg', { unit: 'degrees', factor: Math.PI / 180, quantity: 'angle' }],
  ['kpa', { unit: 'kPa', factor: 1000, quantity: 'pressure' }],
  ['hpa', { unit: 'hPa', factor: 100, quantity: 'pressure' }],
  ['mbar', { unit: 'mbar', factor: 100, quantity: 'pressure' }],
  ['bar', { unit: 'bar', factor: 1e5, quantity: 'pressure' }],
  ['pa', { unit: 'Pa', factor: 1, quantity: 'pressure' }],
  ['km', { unit: 'km', factor: 1000, quantity: 'length' }],
  ['cm', { unit: 'cm', factor: 0.01, quantity: 'length' }],
  ['mm', { unit: 'mm', factor: 1e-3, quantity: 'length' }],
  ['um', { unit: 'um', factor: 1e-6, quantity: 'length' }],
  ['inch', { unit: 'in', factor: 0.0254, quantity: 'length' }],
  ['in', { unit: 'in', factor: 0.0254, quantity: 'length' }],
  ['ft', { unit: 'ft', factor: 0.3048, quantity: 'length' }],
  ['m', { unit: 'm', factor: 1, quantity: 'length' }],
  ['percent', { unit: '%', factor: 0.01, quantity: 'share' }],
  ['c', { unit: 'degrees Celsius', factor: null, quantity: 'temperature' }],
  ['f', { unit: 'degrees Fahrenheit', factor: null, quantity: 'temperature' }],
  ['k', { unit: 'K', factor: null, quantity: 'temperature' }],
];

/** Splits `slope_error_mrad` into its stem and unit; a key without a unit has none. */
function splitUnit(key: string): { stem: string; unit: KeyUnit | null } {
  const lower = key.toLowerCase();
  for (const [ending, unit] of KEY_UNITS) {
    if (lower.endsWith(`_${ending}`)) return { stem: lower.slice(0, -ending.length - 1), unit };
  }
  return { stem: lower, unit: null };
}

/** Unit of the value at a path, from the nearest key; '' where there is none. */
function unitAt(path: Path): string {
  const key = path.findLast((segment) => typeof segment === 'string') as string | undefined;
  return (key && splitUnit(key).unit?.unit) || '';
}

function isRecord(value: unknown): value is Readonly<Record<string, unknown>> {
  return value !== null && typeof value === 'object' && !Array.isArray(value);
}

/** @returns the value at a path of plain data; undefined where there is none */
export function valueAt(data: unknown, path: Path): unknown {
  let value = data;
  for (const segment of path) {
    if (Array.isArray(value)) value = value[segment as number];
    else if (isRecord(value) && Object.hasOwn(value, segment)) value = value[segment];
    else return undefined;
  }
  return value;
}

function typeFits(schema: JsonSchema, value: unknown): boolean {
  if (Array.isArray(value)) return schema.type === 'array';
  if (value === null) return schema.type === 'null';
  if (typeof value === 'number') return schema.type === 'number' || schema.type === 'integer';
  return schema.type === typeof value;
}

/** Chooses the branch of a union that the value is meant to be: by its `kind` or `shape`, else by its type. */
function branchFor(schema: JsonSchema, value: unknown): JsonSchema | undefined {
  const branches = schema.anyOf ?? schema.oneOf;
  if (branches === undefined) return schema;
  const flat = branches.flatMap((branch) => branch.anyOf ?? branch.oneOf ?? [branch]);
  const byKind = flat.find((branch) =>
    Object.entries(branch.properties ?? {}).some(
      ([key, property]) => property.const !== undefined && isRecord(value) && value[key] === property.const,
    ),
  );
  if (byKind !== undefined) return byKind;
  const fitting = flat.filter((branch) => typeFits(branch, value));
  return fitting.length === 1 ? fitting[0] : undefined;
}

/**
 * @param data what the file holds, to choose among the branches of a union
 * @returns the schema of the value at a path, unions resolved down to it but not at it; undefined for an unknown key
 */
export function schemaAt(root: JsonSchema, data: unknown, path: Path): JsonSchema | undefined {
  let schema: JsonSchema | undefined = root;
  for (let depth = 0; depth < path.length; depth++) {
    schema = schema && branchFor(schema, valueAt(data, path.slice(0, depth)));
    if (schema === undefined) return undefined;
    const segment = path[depth];
    if (typeof segment === 'number') {
      const { items }: JsonSchema = schema;
      schema = Array.isArray(items) ? items[segment] : (items as JsonSchema | undefined);
    } else if (schema.properties && Object.hasOwn(schema.properties, segment)) {
      schema = schema.properties[segment];
    } else {
      schema = typeof schema.additionalProperties === 'object' ? schema.additionalProperties : undefined;
    }
  }
  return schema;
}

/** Keys that may stand in the map at a path; of a union without its kind those of every branch; empty where names are free. */
export function knownKeys(root: JsonSchema, data: unknown, path: Path): readonly string[] {
  const schema = schemaAt(root, data, path);
  const branch = schema && branchFor(schema, valueAt(data, path));
  if (branch !== undefined) return Object.keys(branch.properties ?? {});
  const [first, ...others] = (schema?.anyOf ?? schema?.oneOf ?? []).map(({ properties }) =>
    Object.keys(properties ?? {}),
  );
  return (first ?? []).filter((key) => others.every((keys) => keys.includes(key)));
}

function rangeText(schema: JsonSchema, unit: string): string {
  const what = schema.type === 'integer' ? 'a whole number' : 'a number';
  const { minimum, maximum } = schema;
  const range = minimum === undefined || maximum === undefined ? '' : `, ${minimum} to ${maximum}`;
  return `${what}${range}${unit === '' ? '' : ` ${unit}`}`;
}

/** What may stand at a place of the schema, as a phrase. */
function allowedText(schema: JsonSchema | undefined, unit: string): string | undefined {
  if (schema === undefined) return undefined;
  const branches = schema.anyOf ?? schema.oneOf;
  if (branches !== undefined) {
    const kinds = kindsOf(schema);
    if (kinds.length > 0) return `a group of keys with one of ${kinds.join(', ')}`;
    return branches
      .filter((branch) => branch.type !== 'null')
      .map((branch) => allowedText(branch, unit))
      .join(', or ');
  }
  if (schema.const !== undefined) return String(schema.const);
  if (schema.enum !== undefined) return schema.enum.join(', ');
  switch (schema.type) {
    case 'number':
    case 'integer':
      return rangeText(schema, unit);
    case 'array': {
      const { items } = schema;
      if (Array.isArray(items)) return `a list of ${items.length}: each ${allowedText(items[0], unit)}`;
      const { minItems, maxItems } = schema;
      const many = minItems === undefined ? `up to ${maxItems}` : `${minItems} to ${maxItems}`;
      const each = items === undefined ? undefined : allowedText(items as JsonSchema, unit);
      return each === undefined ? `a list of ${many} entries` : `a list of ${many} entries, each ${each}`;
    }
    case 'object': {
      const keys = Object.keys(schema.properties ?? {});
      return keys.length === 0 ? 'a group of named entries' : `a group of keys: ${keys.join(', ')}`;
    }
    case 'string':
      return schema.description === undefined ? 'text' : `text. ${schema.description}`;
    case 'null':
      return 'nothing: leave the key out';
    default:
      return undefined;
  }
}

/** `kind: disc` and the like, for each branch of a union. */
function kindsOf(schema: JsonSchema): readonly string[] {
  const branches = (schema.anyOf ?? schema.oneOf ?? []).flatMap(
    (branch) => branch.anyOf ?? branch.oneOf ?? [branch],
  );
  return branches.flatMap((branch) =>
    Object.entries(branch.properties ?? {}).flatMap(([key, property]) =>
      property.const === undefined ? [] : [`${key}: ${String(property.const)}`],
    ),
  );
}

function withHints(
  problem: Omit<Problem, 'allowed' | 'suggestion'>,
  allowed: string | undefined,
  suggestion?: string,
): Problem {
  return {
    ...problem,
    ...(allowed === undefined ? {} : { allowed }),
    ...(suggestion === undefined ? {} : { suggestion }),
  };
}

/** A key that does not belong: another unit, a slip of the pen, or something else altogether. */
function unknownKey(root: JsonSchema, data: unknown, mapPath: Path, key: string): Problem {
  const path = [...mapPath, key];
  const known = knownKeys(root, data, mapPath);
  const value = valueAt(data, path);
  const { stem, unit } = splitUnit(key);
  const sameStem = known.find((candidate) => splitUnit(candidate).stem === stem);
  if (sameStem !== undefined) {
    const wanted = splitUnit(sameStem).unit;
    let message = `${key} is not a key here: `;
    if (wanted === null) message += `${sameStem} has no unit.`;
    else message += `the value is wanted in ${wanted.unit}, as ${sameStem}.`;
    const convertible =
      typeof value === 'number' &&
      unit?.quantity === wanted?.quantity &&
      typeof unit?.factor === 'number' &&
      typeof wanted?.factor === 'number';
    if (convertible) {
      const converted = Number(((value * unit.factor!) / wanted.factor!).toPrecision(9));
      message += ` ${value} ${unit.unit} are ${converted} ${wanted.unit}.`;
    }
    return withHints(
      { code: 'wrong_unit', path, at: 'key', message },
      allowedText(schemaAt(root, data, [...mapPath, sameStem]), wanted?.unit ?? ''),
      sameStem,
    );
  }
  const where = mapPath.length === 0 ? 'at the top of the file' : `in ${pathText(mapPath)}`;
  return withHints(
    { code: 'unknown_key', path, at: 'key', message: `${key} is not a key ${where}.` },
    known.length === 0 ? undefined : `the keys ${known.join(', ')}`,
    nearest(key, known),
  );
}

function missingKey(path: Path, allowed: string | undefined): Problem {
  const key = String(path.at(-1));
  return withHints({ code: 'missing_key', path, at: 'parent', message: `${key} is missing.` }, allowed);
}

/** A union of plain types (cells: one number or two): the errors of the branch whose type fits the value. */
function unionProblems(
  root: JsonSchema,
  data: unknown,
  path: Path,
  branches: readonly (readonly Issue[])[],
): Problem[] {
  const fitting = branches.find((issues) =>
    issues.every((issue) => issue.path.length > 0 || issue.code !== 'invalid_type'),
  );
  if (fitting === undefined) return [wrongType(root, data, path)];
  return fitting.flatMap((issue) =>
    explain(root, data, { ...issue, path: [...path, ...issue.path] as PropertyKey[] }),
  );
}

function wrongType(root: JsonSchema, data: unknown, path: Path): Problem {
  const value = valueAt(data, path);
  const allowed = allowedText(schemaAt(root, data, path), unitAt(path));
  const what = path.length === 0 ? 'The file' : pathText(path);
  const message = value === null ? `${what} has no value.` : `${what} cannot be ${valueText(value)}.`;
  return withHints({ code: 'wrong_type', path, at: 'value', message }, allowed);
}

function explain(root: JsonSchema, data: unknown, issue: Issue): Problem[] {
  const path = issue.path.map((segment) => (typeof segment === 'number' ? segment : String(segment)));
  const value = valueAt(data, path);
  const schema = schemaAt(root, data, path);
  const allowed = allowedText(schema, unitAt(path));
  const shown = `${pathText(path)} is ${valueText(value)}`;
  if (issue.code === 'unrecognized_keys')
    return issue.keys.slice(0, MAX_ERRORS).map((key) => unknownKey(root, data, path, key));
  if (issue.code === 'invalid_union' && 'discriminator' in issue && issue.discriminator !== undefined) {
    const choices = ((issue as { options?: readonly unknown[] }).options ?? []).map(String);
    const list = choices.join(', ');
    if (value === undefined) return [missingKey(path, list)];
    return [
      withHints(
        { code: 'unknown_choice', path, at: 'value', message: `${shown}, which is none of the choices.` },
        list,
        nearest(String(value), choices),
      ),
    ];
  }
  if (value === undefined && path.length > 0) return [missingKey(path, allowed)];
  switch (issue.code) {
    case 'invalid_union':
      return unionProblems(root, data, path, issue.errors);
    case 'invalid_value': {
      const choices = issue.values.map(String);
      return [
        withHints(
          { code: 'unknown_choice', path, at: 'value', message: `${shown}, which is none of the choices.` },
          choices.join(', '),
          typeof value === 'string' ? nearest(value, choices) : undefined,
        ),
      ];
    }
    case 'too_big':
    case 'too_small': {
      const low = issue.code === 'too_small';
      if (Array.isArray(value)) {
        const message = `${pathText(path)} has ${value.length} ${value.length === 1 ? 'entry' : 'entries'}: too ${low ? 'few' : 'many'}.`;
        return [withHints({ code: 'bad_length', path, at: 'value', message }, allowed)];
      }
      return [
        withHints(
          { code: 'out_of_range', path, at: 'value', message: `${shown}: too ${low ? 'small' : 'large'}.` },
          allowed,
        ),
      ];
    }
    case 'invalid_format':
      return [
        withHints(
          { code: 'bad_text', path, at: 'value', message: `${shown}, which cannot be read.` },
          allowed,
        ),
      ];
    case 'invalid_key':
      return [
        withHints(
          {
            code: 'bad_text',
            path,
            at: 'key',
            message: `${valueText(path.at(-1))} is no name that can be used.`,
          },
          '1 to 64 printable characters',
        ),
      ];
    case 'invalid_type':
      if (issue.expected === 'int' && typeof value === 'number') {
        return [
          withHints(
            { code: 'wrong_type', path, at: 'value', message: `${shown}: not a whole number.` },
            allowed,
          ),
        ];
      }
      return [wrongType(root, data, path)];
    default:
      return [wrongType(root, data, path)];
  }
}

/**
 * @param root the JSON Schema of the file, for ranges and known keys
 * @param data the plain data that failed
 * @returns the schema's issues as problems; a missing key that stands there misspelt is reported once
 */
export function explainIssues(root: JsonSchema, data: unknown, issues: readonly Issue[]): Problem[] {
  const problems: Problem[] = [];
  for (const issue of issues.slice(0, 4 * MAX_ERRORS)) problems.push(...explain(root, data, issue));
  return withoutEchoes(problems);
}

/** Drops "x is missing" beside "y is not a key here: nearest is x". */
export function withoutEchoes(problems: readonly Problem[]): Problem[] {
  const meant = new Set(
    problems.flatMap(({ code, path, suggestion }) =>
      (code === 'unknown_key' || code === 'wrong_unit') && suggestion !== undefined
        ? [pathText([...path.slice(0, -1), suggestion])]
        : [],
    ),
  );
  return problems.filter(({ code, path }) => code !== 'missing_key' || !meant.has(pathText(path)));
}
