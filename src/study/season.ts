/** A year of a scene: energy caught and lost by month, read from an optics table. */
import { layOut } from '../field/layout.js';
import { surfaceArea } from '../field/surface.js';
import { SHARES, type ShareName } from '../result/shares.js';
import type { Figure } from '../result/types.js';
import type { TaskPool } from '../run/pool.js';
import { studentT975 } from '../run/statistics.js';
import type { Scene } from '../scene/types.js';
import { buildOpticsTable, type OpticsTable, sumByBucket } from './optics-table.js';
import { isMirrored } from './optics-table-mirror.js';
import { type NodeReply, type NodeTask, PARTS, type ReceiverMode } from './optics-table-node.js';
import type { SunSeason } from './season-sun.js';
import type { SeasonMonth, SeasonSums, TableReport } from './season-types.js';

export interface SeasonOptions {
  readonly scene: Scene;
  readonly mode: ReceiverMode;
  readonly season: SunSeason;
  readonly seed: string;
  /** About so many rays for each node. */
  readonly rays: number;
  /** Wanted relative error of the year's caught energy. */
  readonly tolerance?: number;
  readonly mostNodes?: number;
  readonly pool: TaskPool<NodeTask, NodeReply>;
  readonly stop?: { readonly requested: boolean };
  readonly onNodes?: (traced: number) => void;
}

export const NODE_RAYS = 2 ** 13;
/** Rays of recorded light for the best place of the receivers at a node. */
export const SEARCH_RAYS = 2 ** 12;
export const YEAR_TOLERANCE = 0.005;
const MOST_NODES = 6000;

export interface SeasonStudy {
  readonly mirrorArea: number;
  readonly total: SeasonSums;
  readonly months: readonly SeasonMonth[];
  readonly report: TableReport;
  readonly table: OpticsTable;
}

/** True surface area of all mirrors, m2. */
export function mirrorArea(scene: Scene): number {
  return layOut(scene).facets.reduce((sum, { shape, outline }) => sum + surfaceArea(shape, outline), 0);
}

/**
 * @throws RangeError where the sun is never up, and what `buildOpticsTable` throws
 */
export async function studySeason(options: SeasonOptions): Promise<SeasonStudy> {
  const { scene, mode, season, tolerance = YEAR_TOLERANCE } = options;
  const points = season.points.filter(({ energy }) => energy > 0);
  const energy = Float64Array.from(points, (point) => point.energy);
  const table = await buildOpticsTable({
    scene,
    mode,
    suns: points.map(({ sun }) => sun),
    energy,
    mirrored: isMirrored(scene, mode),
    seed: options.seed,
    rays: options.rays,
    searchRays: SEARCH_RAYS,
    tolerance,
    mostNodes: options.mostNodes ?? MOST_NODES,
    pool: options.pool,
    ...(options.stop === undefined ? {} : { stop: options.stop }),
    ...(options.onNodes === undefined ? {} : { onNodes: options.onNodes }),
  });
  const area = mirrorArea(scene);
  const sums = sumByBucket(
    table,
    Int32Array.from(points, ({ month }) => month),
    12,
  );
  const length = table.groups * PARTS * SHARES.length;
  const year = new Float64Array(length);
  const yearEnergy = energy.reduce((sum, value) => sum + value, 0);
  const months: SeasonMonth[] = [];
  for (let month = 0; month < 12; month++) {
    const own = points.filter((point) => point.month === month);
    if (own.length === 0) continue;
    const parts = sums.subarray(month * length, (month + 1) * length);
    for (let i = 0; i < length; i++) year[i] += parts[i];
    const monthEnergy = own.reduce((sum, point) => sum + point.energy, 0);
    months.push({
      month: month + 1,
      ...seasonSums(parts, own, area, tableError(table, monthEnergy / yearEnergy)),
    });
  }
  const total = seasonSums(year, points, area, tableError(table, 1));
  return {
    mirrorArea: area,
    total,
    months,
    table,
    report: tableReport(table, year, options.rays, tolerance),
  };
}

/** Relative error of a part of the year for want of nodes: fewer places of the check fall into it. */
export function tableError({ check }: OpticsTable, share: number): number {
  return Math.hypot(check.bias, check.std_err / Math.sqrt(share));
}

/** @returns mean over the parts, and the standard error of that mean */
export function meanOfParts(parts: Float64Array, share: ShareName): { value: number; std_err: number } {
  const own = Array.from({ length: PARTS }, (_, part) => parts[part * SHARES.length + SHARES.indexOf(share)]);
  const value = own.reduce((sum, entry) => sum + entry, 0) / PARTS;
  const squares = own.reduce((sum, entry) => sum + (entry - value) ** 2, 0);
  return { value, std_err: Math.sqrt(squares / (PARTS * (PARTS - 1))) };
}

const JOULES_PER_KWH = 3.6e6;

/** Interval from an error whose spread is known from the parts. */
export function seasonFigure(value: number, std_err: number, unit: string): Figure {
  const half = studentT975(PARTS - 1) * std_err;
  return { value, std_err, ci95: [value - half, value + half], unit };
}

/** @param parts J per m2 of mirror, by part and share */
function seasonSums(
  parts: Float64Array,
  points: SunSeason['points'],
  area: number,
  relative: number,
): SeasonSums {
  const dni = points.reduce((sum, point) => sum + point.energy, 0) / JOULES_PER_KWH;
  const caught = meanOfParts(parts, 'caught');
  const perArea = caught.value / JOULES_PER_KWH;
  const error = Math.hypot(caught.std_err / JOULES_PER_KWH, relative * perArea);
  const lost = (share: ShareName) => (meanOfParts(parts, share).value * area) / JOULES_PER_KWH;
  return {
    sun_hours: points.reduce((sum, point) => sum + point.seconds, 0) / 3600,
    dni_kwh_m2: dni,
    available_kwh: dni * area,
    caught: seasonFigure(perArea * area, error * area, 'kWh'),
    caught_per_m2: seasonFigure(perArea, error, 'kWh/m2'),
    lost_cosine_kwh: lost('cosine'),
    lost_shading_kwh: lost('shading'),
    lost_film_kwh: lost('film'),
    lost_blocking_kwh: lost('blocking'),
    lost_spill_kwh: lost('spill'),
  };
}

export function tableReport(
  table: OpticsTable,
  year: Float64Array,
  rays: number,
  wanted: number,
): TableReport {
  const caught = meanOfParts(year, 'caught');
  return {
    nodes_traced: table.traced,
    cells: table.leaves.length,
    rays_per_node: rays,
    mirrored: table.mirrored,
    ray_noise_fraction: caught.value > 0 ? caught.std_err / caught.value : 0,
    checked_places: table.check.places,
    check_bias_fraction: table.check.bias,
    check_std_err_fraction: table.check.std_err,
    error_bound_fraction: table.check.bound,
    wanted_fraction: wanted,
    reached: table.toleranceReached,
  };
}
