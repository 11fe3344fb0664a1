import { layOut } from '../field/layout.js';
import { cellNoiseWarning, physicsWarnings } from '../field/warnings.js';
import { type PreparedScene, type PrepareOptions, prepareScene, type SharedTables } from '../prepare.js';
import { summarize } from '../result/summarize.js';
import type { FluxGrid, Summary, Warning } from '../result/types.js';
import type { Run, RunOptions, RunOutcome } from '../run/types.js';
import type { Scene } from '../scene/types.js';
import { momentOf } from '../sun/direction.js';
import { VERSION } from '../version.js';

/**
 * Scene -> prepared scene at its own moment.
 * @param shared one for all scenes of a study, see `PrepareOptions`
 * @param purpose see `PrepareOptions`
 * @throws GeometryError where the scene cannot be built, SunBelowHorizonError where there is no sun
 */
export function prepareAtMoment(
  scene: Scene,
  shared?: SharedTables,
  purpose: NonNullable<PrepareOptions['purpose']> = 'tracing',
): PreparedScene {
  return prepareScene(scene, layOut(scene), momentOf(scene), {
    purpose,
    ...(shared === undefined ? {} : { shared }),
  });
}

/** What a trace leaves: the figures, and the run they came from. */
export interface Traced {
  readonly prepared: PreparedScene;
  readonly outcome: RunOutcome;
  readonly summary: Summary;
}

/**
 * The main job: a scene in; flux maps, peak flux and spill out, every figure with its error.
 * @param run traces batches: `runScene`, or one from `createRun` that keeps its threads for a whole study
 * @throws what `prepareAtMoment` and `run` throw, and RangeError where the run was stopped before any batch group ended
 */
export async function traceScene(scene: Scene, run: Run, options: RunOptions): Promise<Traced> {
  const prepared = prepareAtMoment(scene);
  const outcome = await run(prepared, options);
  const warnings = physicsWarnings(scene, prepared.field, prepared.moment);
  const summary = summarize(prepared, outcome, VERSION, warnings);
  return { prepared, outcome, summary: withNoiseWarning(summary) };
}

/** Cells of a map that carry more than a tenth of its highest flux. */
function litCells(grid: FluxGrid): number {
  const limit = 0.1 * grid.flux.reduce((a, b) => Math.max(a, b), 0);
  return grid.flux.reduce((count, flux) => (flux > limit ? count + 1 : count), 0);
}

/** Adds one warning where the worst of the maps has finer cells than its rays can fill. */
function withNoiseWarning(summary: Summary): Summary {
  const { result, grids } = summary;
  // Footprints fill their cells.
  if (result.deposit !== undefined && result.deposit.by_rays_fraction < 0.5) return summary;
  let worst: Warning | null = null;
  let most = 0;
  grids.forEach((grid, index) => {
    const covered = litCells(grid);
    const rays = result.receivers[index].ledger.lines.find((line) => line.key === 'intercepted')?.rays ?? 0;
    const warning = cellNoiseWarning(rays, [grid.nu, grid.nv], covered);
    if (warning !== null && covered / rays > most) {
      worst = warning;
      most = covered / rays;
    }
  });
  if (worst === null) return summary;
  return { ...summary, result: { ...result, warnings: [...result.warnings, worst] } };
}
