/** Scene text in, checked `Scene` or all its errors out. */
import { alternativeProblems, consistencyProblems, nameProblems } from './consistency.js';
import { convertScene } from './convert.js';
import { isWithheld, readDocument, type SceneDocument } from './document.js';
import { MAX_ERRORS, type Problem, pathText, type SceneError, startsWith } from './errors.js';
import { explainIssues, withoutEchoes } from './explain.js';
import { type FullSchema, fullSchema } from './json-schema.js';
import { type AppliedOverride, applyOverrides, type Override } from './override.js';
import { plainReader } from './plain-reader.js';
import { ALTERNATIVES, type SceneFile, sceneFileSchema } from './schema.js';
import type { Scene } from './types.js';

export type LoadOutcome =
  | { readonly ok: true; readonly scene: Scene }
  | { readonly ok: false; readonly errors: readonly SceneError[] };

export interface LoadOptions {
  /** Name of the file, for messages. */
  readonly file: string;
  /** Values that replace those of the file, in order; see `parseOverride`. */
  readonly overrides?: readonly Override[];
}

const readPlain = plainReader(sceneFileSchema);

/** Gives a problem its place: in the text, or the option that set the value. */
function locateProblem(
  problem: Problem,
  document: SceneDocument,
  applied: readonly AppliedOverride[],
): SceneError {
  const { path, at, ...rest } = problem;
  const source = applied.findLast((override) => startsWith(path, override.path));
  const place =
    source === undefined ? document.locate(path, at) : { line: null, column: null, endColumn: null };
  return {
    ...rest,
    path: pathText(path),
    ...place,
    ...(source === undefined ? {} : { option: source.option }),
  };
}

/** In the order of the text, options last; the same thing at the same place once. */
function inOrder(errors: readonly SceneError[]): readonly SceneError[] {
  const last = Number.MAX_SAFE_INTEGER;
  const sorted = [...errors].sort(
    (first, second) =>
      (first.line ?? last) - (second.line ?? last) || (first.column ?? last) - (second.column ?? last),
  );
  const seen = new Set<string>();
  return sorted
    .filter(({ code, path, line, column }) => {
      const identity = JSON.stringify([code, path, line, column]);
      if (seen.has(identity)) return false;
      seen.add(identity);
      return true;
    })
    .slice(0, MAX_ERRORS);
}

/**
 * Reads a scene's text once, for scenes that differ only in the values put into it.
 * @param text YAML 1.2 text of a scene file
 * @param schema of the file, for errors and for values whose keys are not in the text
 * @returns what makes the scene with the given values, as `loadScene` does from the text
 */
export function sceneSource(
  text: string,
  schema: FullSchema = fullSchema(),
): (overrides: readonly Override[]) => LoadOutcome {
  const read = readDocument(text);
  if (!read.ok) return () => read;
  const { document } = read;
  return (overrides) => loadDocument(document, overrides, schema);
}

function loadDocument(
  document: SceneDocument,
  overrides: readonly Override[],
  schema: FullSchema,
): LoadOutcome {
  const data = structuredClone(document.data);
  const { applied, errors: optionErrors } = applyOverrides(data, overrides, schema.json);

  const problems: Problem[] = [];
  let file: SceneFile | null = readPlain(data);
  if (file === null) {
    const checked = schema.check(data);
    if (checked.success) file = checked.data;
    else problems.push(...explainIssues(schema.json(), data, checked.error.issues));
  }
  problems.push(...nameProblems(data), ...alternativeProblems(data, ALTERNATIVES));
  if (file !== null && problems.length === 0) problems.push(...consistencyProblems(file));

  const located = withoutEchoes(problems)
    .filter(({ path }) => !isWithheld(document.withheld, path))
    // Finding a place takes time in proportion to the file, so it is not done for thousands.
    .slice(0, 4 * MAX_ERRORS)
    .map((problem) => locateProblem(problem, document, applied));
  const errors = inOrder([...document.problems, ...located, ...optionErrors]);
  if (errors.length > 0 || file === null) return { ok: false, errors };
  return { ok: true, scene: convertScene(file) };
}

/**
 * Reads, checks and converts a scene.
 * @param text YAML 1.2 text of a scene file
 * @returns the scene in SI units and radians, or every error found, in the order of the text. Bad text never throws.
 */
export function loadScene(text: string, { overrides = [] }: LoadOptions): LoadOutcome {
  return sceneSource(text)(overrides);
}
