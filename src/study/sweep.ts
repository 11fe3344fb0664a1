/** The same scene traced over the values of one or two keys, with the same random numbers at every point. */
import type { PreparedScene } from '../prepare.js';
import { summarize } from '../result/summarize.js';
import type { Figure, Replicates, TraceResult, Warning } from '../result/types.js';
import type { Run, RunOptions } from '../run/types.js';
import { compareFigures, figureByName, replicatesByName, tableFigures } from './figures.js';
import { MOST_VALUES } from './range.js';
import { missingFigure, tolerance } from './requirement.js';
import type { Comparison, Requirement, SweepPoint, SweepResult, Tolerance, VariedPath } from './types.js';

/** One key set to one value, as on the command line. */
export interface Override {
  readonly path: string;
  readonly value: number;
}

export interface SweepOptions {
  /** Scene with overrides -> prepared scene. What it throws ends the sweep. */
  readonly prepare: (overrides: readonly Override[]) => PreparedScene | Promise<PreparedScene>;
  readonly run: Run;
  readonly runOptions: RunOptions;
  /** One or two paths, each with at least one value. */
  readonly vary: readonly VariedPath[];
  readonly requirement: Requirement | null;
  /** Of the program. */
  readonly version: string;
  /** Called after each point. */
  readonly onPoint?: (done: number, wanted: number, point: SweepPoint) => void;
}

/** A sweep that cannot be done as asked; the message is for the user. */
export class SweepError extends Error {
  override readonly name = 'SweepError';
}

/**
 * Traces every combination of the values (the first path varies slowest) with the same seed, so that differences between
 * points carry far less noise than the points themselves.
 *
 * Ends early, marked as interrupted, when `runOptions.stop` is requested; a point cut short is not kept. Beside the
 * differences to the first point, a requirement gives the tolerance: along the path of a sweep of one; along the first path
 * at each value of the second in a sweep of two.
 *
 * @throws SweepError for no or more than two paths, the same path twice, more than 10,000 points, or a required figure that
 *   the scene lacks; whatever `prepare` and `run` throw
 */
export async function sweep(options: SweepOptions): Promise<SweepResult> {
  const { vary, requirement, runOptions } = options;
  const combinations = combine(vary);
  const stopped = () => runOptions.stop?.requested === true;

  let names: readonly string[] = [];
  let title = '';
  const points: SweepPoint[] = [];
  const kept: Map<string, Float64Array>[] = [];
  const warnings = new Map<string, Warning>();
  for (const values of combinations) {
    if (stopped()) break;
    const prepared = await options.prepare(vary.map(({ path }, i) => ({ path, value: values[i] })));
    const outcome = await options.run(prepared, runOptions);
    if (outcome.interrupted || outcome.slots.length === 0) break;
    const { result, replicates } = summarize(prepared, outcome, options.version, []);
    if (points.length === 0) {
      title = result.title;
      names = columns(result, requirement);
    }
    const missing = requirement && missingFigure(requirement, result);
    if (missing) throw new SweepError(missing);
    for (const warning of result.warnings) {
      const at = vary.map(({ path }, i) => `${path} = ${values[i]}`).join(', ');
      if (!warnings.has(warning.code)) {
        warnings.set(warning.code, { code: warning.code, message: `From ${at} on: ${warning.message}` });
      }
    }
    const own = keep(replicates, names);
    kept.push(own);
    const point = sweepPoint(values, result, own, names, points[0], kept[0]);
    points.push(point);
    options.onPoint?.(points.length, combinations.length, point);
  }

  return {
    schema_version: 1,
    program: { name: 'rowfocus', version: options.version },
    kind: 'sweep',
    title,
    seed: runOptions.seed,
    vary,
    figures: names,
    points,
    requirement,
    tolerances: requirement ? tolerances(requirement, vary, points, kept) : [],
    interrupted: points.length < combinations.length,
    warnings: [...warnings.values()],
  };
}

/** All combinations of the values, the first path slowest. */
function combine(vary: readonly VariedPath[]): readonly (readonly number[])[] {
  if (vary.length < 1 || vary.length > 2) throw new SweepError('vary one or two paths');
  if (vary.length === 2 && vary[0].path === vary[1].path) {
    throw new SweepError(`the two paths are the same: ${vary[0].path}`);
  }
  const empty = vary.find(({ values }) => values.length === 0);
  if (empty) throw new SweepError(`no value for ${empty.path}`);
  const count = vary.reduce((product, { values }) => product * values.length, 1);
  if (count > MOST_VALUES) {
    throw new SweepError(`${count} points are more than ${MOST_VALUES}; take larger steps`);
  }
  return vary.reduce<readonly (readonly number[])[]>(
    (done, { values }) => done.flatMap((head) => values.map((value) => [...head, value])),
    [[]],
  );
}

function columns(result: TraceResult, requirement: Requirement | null): readonly string[] {
  const names = tableFigures(result);
  return requirement && !names.includes(requirement.figure) ? [...names, requirement.figure] : names;
}

/** Only what the columns need: replicates of every receiver at thousands of points would fill the memory. */
function keep(replicates: Replicates, names: readonly string[]): Map<string, Float64Array> {
  return new Map(names.map((name) => [name, replicatesByName(replicates, name)]));
}

function sweepPoint(
  values: readonly number[],
  result: TraceResult,
  replicates: ReadonlyMap<string, Float64Array>,
  names: readonly string[],
  first: SweepPoint | undefined,
  firstReplicates: ReadonlyMap<string, Float64Array>,
): SweepPoint {
  const figures: Record<string, Figure> = {};
  for (const name of names) {
    const figure = figureByName(result, name);
    if (figure) figures[name] = figure;
  }
  const { batches, groups, rays } = result;
  const sameDraws = first === undefined || (first.batches === batches && first.groups === groups);
  const differences: Record<string, Comparison> = {};
  for (const [name, figure] of Object.entries(figures)) {
    const base = first?.figures[name] ?? figure;
    differences[name] = compareFigures(
      { figure, replicates: replicates.get(name) ?? new Float64Array(0) },
      { figure: base, replicates: firstReplicates.get(name) ?? new Float64Array(0) },
      sameDraws,
    );
  }
  return { values, scene_hash: result.scene_hash, rays, batches, groups, figures, differences };
}

function tolerances(
  requirement: Requirement,
  vary: readonly VariedPath[],
  points: readonly SweepPoint[],
  kept: readonly ReadonlyMap<string, Float64Array>[],
): Tolerance[] {
  const others = vary.length === 2 ? vary[1].values : [null];
  return others.flatMap((other) => {
    const along = points.flatMap((point, i) =>
      (other === null || point.values[1] === other) && point.figures[requirement.figure]
        ? [
            {
              value: point.values[0],
              figure: point.figures[requirement.figure],
              replicates: kept[i].get(requirement.figure) ?? new Float64Array(0),
            },
          ]
        : [],
    );
    const at = other === null ? null : { path: vary[1].path, value: other };
    return along.length > 0 ? [tolerance(requirement, vary[0].path, at, along)] : [];
  });
}
