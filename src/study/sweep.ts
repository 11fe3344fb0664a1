/** The same scene traced over the values of one or two keys, with the same random numbers at every point. */
import type { PreparedScene } from '../prepare.js';
import { summarize } from '../result/summarize.js';
import type { Figure, TraceResult, Warning } from '../result/types.js';
import type { Run, RunOptions } from '../run/types.js';
import { compareFigures, figureByName, replicatesByName, tableFigures } from './figures.js';
import { startLine, type TracedPoint } from './point-line.js';
import { MOST_VALUES } from './range.js';
import { missingFigure, tolerance } from './requirement.js';
import type { PointRecord } from './resume.js';
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
  /** The first points, finished earlier by the same sweep; they are not traced again. */
  readonly recorded?: readonly PointRecord[];
  /** Called with each point that was traced, before the next; what it throws ends the sweep. */
  readonly onRecord?: (record: PointRecord) => void | Promise<void>;
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
  const { recorded = [] } = options;
  let names: readonly string[] = [];
  const points: SweepPoint[] = [];
  const kept: ReadonlyMap<string, Float64Array>[] = [];
  const warnings = new Map<string, Warning>();
  let title = '';
  const line = startLine(combinations, recorded.length, options);
  try {
    for (const [index, values] of combinations.entries()) {
      let record = recorded.at(index);
      if (record === undefined) {
        const traced = await line.next();
        if (traced === null) break;
        record = recordOf(values, traced, options, names);
        await options.onRecord?.(record);
      }
      if (index === 0) {
        title = record.title;
        names = [...record.replicates.keys()];
      }
      for (const warning of record.warnings) {
        const at = vary.map(({ path }, i) => `${path} = ${values[i]}`).join(', ');
        if (!warnings.has(warning.code)) {
          warnings.set(warning.code, { code: warning.code, message: `From ${at} on: ${warning.message}` });
        }
      }
      kept.push(record.replicates);
      const point = sweepPoint(record, points[0], kept[0]);
      points.push(point);
      options.onPoint?.(points.length, combinations.length, point);
    }
  } finally {
    await line.close();
  }

  return {
    schema_version: 1,
    program: { name: 'rowfocus', version: options.version },
    kind: 'sweep',
    ...(runOptions.deposit === 'footprints' ? { deposit: runOptions.deposit } : {}),
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

/**
 * @param columnNames columns of the sweep; none before its first point, which says what they are
 * @throws SweepError for a required figure that the scene lacks
 */
function recordOf(
  values: readonly number[],
  { prepared, outcome }: TracedPoint,
  { requirement, version }: SweepOptions,
  columnNames: readonly string[],
): PointRecord {
  const { result, replicates } = summarize(prepared, outcome, version, []);
  const missing = requirement && missingFigure(requirement, result);
  if (missing) throw new SweepError(missing);
  const names = columnNames.length > 0 ? columnNames : columns(result, requirement);
  const figures: Record<string, Figure> = {};
  for (const name of names) {
    const figure = figureByName(result, name);
    if (figure) figures[name] = withoutMinusZero(figure);
  }
  const { title, scene_hash, rays, batches, groups, warnings } = result;
  // Only what the columns need: replicates of every receiver at thousands of points would fill the memory.
  const own = new Map(names.map((name) => [name, replicatesByName(replicates, name)]));
  return { values, scene_hash, title, rays, batches, groups, figures, replicates: own, warnings };
}

/** JSON text knows no minus zero: without it, a point read from its record is the one that was traced, to the last bit. */
function withoutMinusZero(figure: Figure): Figure {
  const { value, std_err, ci95 } = figure;
  return { ...figure, value: value + 0, std_err: std_err + 0, ci95: [ci95[0] + 0, ci95[1] + 0] };
}

/**
 * @returns all combinations of the values in sweep order, the first path slowest
 * @throws SweepError as `sweep` says
 */
export function combine(vary: readonly VariedPath[]): readonly (readonly number[])[] {
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

function sweepPoint(
  { values, scene_hash, rays, batches, groups, figures, replicates }: PointRecord,
  first: SweepPoint | undefined,
  firstReplicates: ReadonlyMap<string, Float64Array>,
): SweepPoint {
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
  return { values, scene_hash, rays, batches, groups, figures, differences };
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
