/** Two or more traces side by side, with the errors of their differences. */
import type { Figure, Summary, Warning } from '../result/types.js';
import { compareFigures, figureByName, replicatesByName, TOTAL_FIGURES, tableFigures } from './figures.js';
import type { ComparedScene, CompareResult, Comparison } from './types.js';

export interface CompareInput {
  /** What the user calls the scene: a file name. */
  readonly name: string;
  readonly summary: Pick<Summary, 'result' | 'replicates'>;
}

/**
 * Differences and ratios of all total figures to the first scene. Traces with the same seed, batches and groups
 * are paired group by group; others count as independent, and a warning says so.
 *
 * Where all scenes have one receiver of the same name, its spot diameters and smallest opening are compared too.
 *
 * @param version of the program
 * @throws RangeError for fewer than two traces
 */
export function compare(inputs: readonly CompareInput[], version: string): CompareResult {
  if (inputs.length < 2) throw new RangeError('compare needs at least two scenes');
  const [base, ...others] = inputs;
  const shared = tableFigures(base.summary.result).filter((name) =>
    inputs.every(({ summary }) => figureByName(summary.result, name) !== null),
  );
  const names: readonly string[] = shared.length > 0 ? shared : TOTAL_FIGURES;

  const warnings: Warning[] = [];
  const differences = others.map((other) => {
    const a = other.summary.result;
    const b = base.summary.result;
    const sameDraws =
      a.seed === b.seed &&
      (a.deposit === undefined) === (b.deposit === undefined) &&
      a.batches === b.batches &&
      a.groups === b.groups;
    if (!sameDraws) {
      warnings.push({
        code: 'not_paired',
        message: `${other.name} and ${base.name} differ in seed, batches or groups, so their errors are added as if independent; trace both alike for a sharper difference.`,
      });
    }
    const figures: Record<string, Comparison> = {};
    for (const name of names) {
      const figure = figureByName(a, name);
      const baseFigure = figureByName(b, name);
      if (!figure || !baseFigure) continue;
      figures[name] = compareFigures(
        { figure, replicates: replicatesByName(other.summary.replicates, name) },
        { figure: baseFigure, replicates: replicatesByName(base.summary.replicates, name) },
        sameDraws,
      );
    }
    return { scene: other.name, base: base.name, figures };
  });

  return {
    schema_version: 1,
    program: { name: 'rowfocus', version },
    kind: 'compare',
    ...(base.summary.result.deposit === undefined ? {} : { deposit: 'footprints' as const }),
    scenes: inputs.map((input) => comparedScene(input, names)),
    figures: names,
    differences,
    warnings,
  };
}

function comparedScene({ name, summary }: CompareInput, names: readonly string[]): ComparedScene {
  const { title, scene_hash, seed, rays, batches, groups } = summary.result;
  const figures: Record<string, Figure> = {};
  for (const figureName of names) {
    const figure = figureByName(summary.result, figureName);
    if (figure) figures[figureName] = figure;
  }
  return { name, title, scene_hash, seed, rays, batches, groups, figures };
}
