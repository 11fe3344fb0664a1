/** Energy by day and setting: what a plan of re-settings is made on. One optics table serves all tilts where a row turns as one piece. */

import { SHARES } from '../result/shares.js';
import type { Scene } from '../scene/types.js';
import { withReceiversAt, withTiltSetting } from './moving.js';
import { buildOpticsTable, type OpticsTable, StudyStopped, sumByBucket } from './optics-table.js';
import { rowAngles, sunAtAngles, tableHeading } from './optics-table-angles.js';
import { isMirrored } from './optics-table-mirror.js';
import { PARTS, type ReceiverMode } from './optics-table-node.js';
import { mirrorArea, SEARCH_RAYS, type SeasonOptions } from './season.js';
import type { SunPoint } from './season-sun.js';
import { type SettingTable, tableOfReplicates } from './setting-table.js';

/** What is re-set: the tilt of all mirrors (degrees), or where the receivers' places start from (mm), across the row or up. */
export type ResetKind = 'tilt' | 'across' | 'up';

const DEGREE = Math.PI / 180;
const JOULES_PER_KWH = 3.6e6;

export const RESET_KINDS: Readonly<Record<ResetKind, { readonly name: string; readonly unit: string }>> = {
  tilt: { name: 'tilt setting', unit: 'deg' },
  across: { name: 'receivers across the row', unit: 'mm' },
  up: { name: 'receivers up or down', unit: 'mm' },
};

/** @param value degrees or mm */
export function sceneAtSetting(scene: Scene, kind: ResetKind, value: number): Scene {
  switch (kind) {
    case 'tilt':
      return withTiltSetting(scene, value * DEGREE);
    case 'across':
      return withReceiversAt(scene, [0, value / 1000, 0]);
    case 'up':
      return withReceiversAt(scene, [0, 0, value / 1000]);
  }
}

/**
 * Whether a tilt of the mirrors is the same as the sun turned the other way: one row of dishes whose centres lie on the axis they turn
 * about, with receivers that follow all ways and face their dish, and nothing beside it.
 */
export function turnsAsOne(scene: Scene, mode: ReceiverMode): boolean {
  if (mode.kind !== 'following' || mode.free !== undefined) return false;
  if (scene.rows.length !== 1 || scene.rows[0].rows !== 1 || scene.rows[0].receiver !== null) return false;
  if (scene.facets.length + scene.blockers.length + scene.receivers.length > 0) return false;
  const dish = scene.dishes.find(({ name }) => name === scene.rows[0].dish);
  if (dish === undefined || dish.receiver === null || dish.blockers.length > 0) return false;
  const { design, faces } = dish.receiver;
  return faces === 'dish' && (design.kind === 'plate' || design.kind === 'cavity');
}

export interface SettingOptions extends SeasonOptions {
  readonly kind: ResetKind;
  /** Rising; degrees or mm. */
  readonly values: readonly number[];
  readonly onStage?: (text: string) => void;
}

export interface SettingEnergy {
  readonly table: SettingTable;
  readonly traced: number;
  /** Worst of the bounds of the optics tables' errors, relative. */
  readonly bound: number;
  /** All tilts are read from one optics table. */
  readonly shared: boolean;
  /** Settings asked for; the table has fewer where the study was stopped. */
  readonly wanted: number;
}

/** Of a table for one setting of many: coarser than a year that is reported. */
const SETTING_TOLERANCE = 0.02;
const SETTING_NODES = 400;

/**
 * First, last, middle, then the middles of what lies between: wherever one stops, the range is covered.
 * @returns indices 0 to count - 1
 */
export function coarseFirst(count: number): readonly number[] {
  const order = count > 1 ? [0, count - 1] : [0];
  const gaps: (readonly [number, number])[] = [[0, count - 1]];
  for (const [low, high] of gaps) {
    if (high - low < 2) continue;
    const middle = (low + high) >> 1;
    order.push(middle);
    gaps.push([low, middle], [middle, high]);
  }
  return order;
}

/**
 * The energy of each day at each setting, with PARTS replicates. Settings share their random numbers. Ends early when `stop` is
 * requested: settings that were finished are kept where there are two or more.
 * @throws what `buildOpticsTable` throws
 */
export async function settingEnergy(options: SettingOptions): Promise<SettingEnergy> {
  const { scene, mode, season, kind, values, onStage } = options;
  const points = season.points.filter(({ energy }) => energy > 0);
  const replicates = Array.from({ length: PARTS }, () => new Float64Array(season.days * values.length));
  const perKwh = mirrorArea(scene) / JOULES_PER_KWH;
  let traced = 0;
  let bound = 0;
  const shared = kind === 'tilt' && turnsAsOne(scene, mode);
  const read = (table: OpticsTable, bucketOf: Int32Array, settings: readonly number[]): void => {
    const sums = sumByBucket(table, bucketOf, season.days * settings.length);
    const length = table.groups * PARTS * SHARES.length;
    for (let day = 0; day < season.days; day++) {
      settings.forEach((setting, s) => {
        const base = (day * settings.length + s) * length;
        for (let part = 0; part < PARTS; part++) {
          replicates[part][day * values.length + setting] = sums[base + part * SHARES.length] * perKwh;
        }
      });
    }
    traced += table.traced;
    bound = Math.max(bound, table.check.bound);
  };
  const days = points.map(({ day }) => day);
  const done: number[] = [];
  if (shared) {
    onStage?.('all tilts from one table');
    const turned = turnedSuns(scene, points, values);
    const table = await tableFor(options, withTiltSetting(scene, 0), turned.suns, turned.energy, {
      tolerance: options.tolerance ?? SETTING_TOLERANCE / 4,
      mostNodes: 4 * SETTING_NODES,
    });
    const all = values.map((_, k) => k);
    read(
      table,
      Int32Array.from(
        turned.suns,
        (_, i) => days[Math.floor(i / values.length)] * values.length + (i % values.length),
      ),
      all,
    );
    done.push(...all);
  } else {
    const energy = Float64Array.from(points, (point) => point.energy);
    for (const k of coarseFirst(values.length)) {
      const value = values[k];
      onStage?.(
        `${RESET_KINDS[kind].name} ${value} ${RESET_KINDS[kind].unit}, ${done.length + 1} of ${values.length}`,
      );
      let table: OpticsTable;
      try {
        table = await tableFor(
          options,
          sceneAtSetting(scene, kind, value),
          points.map(({ sun }) => sun),
          energy,
          { tolerance: SETTING_TOLERANCE, mostNodes: SETTING_NODES },
        );
      } catch (error) {
        if (error instanceof StudyStopped && done.length >= 2) break;
        throw error;
      }
      read(table, Int32Array.from(days), [k]);
      done.push(k);
    }
  }
  const { name, unit } = RESET_KINDS[kind];
  const kept = done.sort((a, b) => a - b);
  const table = tableOfReplicates(
    { name, unit },
    kept.map((k) => ({ label: `${values[k]} ${unit}`, value: values[k] })),
    season.days,
    replicates.map((whole) => columnsOf(whole, values.length, kept)),
  );
  return { table, traced, bound, shared, wanted: values.length };
}

/** Some columns of a flat table of `width` columns. */
function columnsOf(whole: Float64Array, width: number, columns: readonly number[]): Float64Array {
  if (columns.length === width) return whole;
  const rows = whole.length / width;
  return Float64Array.from({ length: rows * columns.length }, (_, i) => {
    const row = Math.floor(i / columns.length);
    return whole[row * width + columns[i % columns.length]];
  });
}

function tableFor(
  options: SettingOptions,
  scene: Scene,
  suns: SunPoint['sun'][],
  energy: Float64Array,
  limits: { readonly tolerance: number; readonly mostNodes: number },
): Promise<OpticsTable> {
  const { mode, seed, rays, pool, stop, onNodes } = options;
  return buildOpticsTable({
    scene,
    mode,
    suns,
    energy,
    mirrored: isMirrored(scene, mode),
    seed,
    rays,
    searchRays: SEARCH_RAYS,
    pool,
    ...limits,
    ...(stop === undefined ? {} : { stop }),
    ...(onNodes === undefined ? {} : { onNodes }),
  });
}

/**
 * The sun as each tilt sees it, the row turned back to tilt setting 0. A sun that would then stand below the horizon is taken on it:
 * that befalls a low sun only, at a setting off its season by more than the sun is high.
 * @returns point by point, all values of each
 */
function turnedSuns(
  scene: Scene,
  points: readonly SunPoint[],
  values: readonly number[],
): { readonly suns: SunPoint['sun'][]; readonly energy: Float64Array } {
  const heading = tableHeading(scene);
  const suns: SunPoint['sun'][] = [];
  const energy = new Float64Array(points.length * values.length);
  points.forEach((point, i) => {
    const { longitudinal, profile } = rowAngles(heading, point.sun);
    values.forEach((value, k) => {
      const turned = Math.min(Math.PI, Math.max(0, profile + value * DEGREE));
      suns.push(sunAtAngles(heading, { longitudinal, profile: turned }));
      energy[i * values.length + k] = point.energy;
    });
  });
  return { suns, energy };
}
