/**
 * Energy by day and setting: what a plan of re-settings is made on. One optics table serves all tilts where a row turns as one piece; else
 * all settings share a lattice of recorded light, whose level is found by traces.
 */

import { dishOfRow } from '../field/layout.js';
import { leastWidth } from '../field/receiver.js';
import { SHARES } from '../result/shares.js';
import type { TaskPool } from '../run/pool.js';
import { studentT975 } from '../run/statistics.js';
import type { Scene } from '../scene/types.js';
import { receiverFromDish, withTiltSetting } from './moving.js';
import { buildOpticsTable, type OpticsTable, sumByBucket } from './optics-table.js';
import { rowAngles, sunAtAngles, tableHeading } from './optics-table-angles.js';
import { isMirrored } from './optics-table-mirror.js';
import { PARTS, type ReceiverMode, withoutMaps } from './optics-table-node.js';
import { doAll } from './pooled.js';
import { mirrorArea, SEARCH_RAYS, type SeasonOptions } from './season.js';
import type { SunPoint } from './season-sun.js';
import { type SettingLattice, settingLattice } from './setting-lattice.js';
import {
  type ResetKind,
  type SettingNodeReply,
  type SettingNodeTask,
  sceneAtSetting,
} from './setting-node.js';
import { type ResettingPlan, type SettingTable, settingByDay, tableOfReplicates } from './setting-table.js';

const DEGREE = Math.PI / 180;
const JOULES_PER_KWH = 3.6e6;

export const RESET_KINDS: Readonly<Record<ResetKind, { readonly name: string; readonly unit: string }>> = {
  tilt: { name: 'tilt setting', unit: 'deg' },
  across: { name: 'receivers across the row', unit: 'mm' },
  up: { name: 'receivers up or down', unit: 'mm' },
};

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

/** Of the sun at the solstices. */
const OBLIQUITY = 23.44 * DEGREE;
/** Most settings tried where nobody says which. */
const MOST_SETTINGS = 41;
/** Receivers are not moved to where they would stand nearer to the mirrors, or farther from them, than these parts of their distance. */
const CLOSEST = 0.5;
const REMOTEST = 1.75;
const USUAL_OPENING = 0.18;

/** Profile angles of the noon sun at the equinox and both solstices. */
function noonProfiles(scene: Scene): readonly [number, number, number] {
  const latitude = scene.site?.latitude ?? 0;
  const heading = tableHeading(scene);
  const at = (declination: number): number => {
    const fromZenith = latitude - declination;
    return rowAngles(heading, [0, -Math.sin(fromZenith), Math.cos(fromZenith)]).profile;
  };
  return [at(0), at(-OBLIQUITY), at(OBLIQUITY)];
}

function evenly(middle: number, reach: number, step: number): readonly number[] {
  const each = Math.round(reach / step);
  const centre = Math.round(middle / step);
  // Rounded, so that sums of binary parts do not show.
  return Array.from({ length: 2 * each + 1 }, (_, i) => Number(((centre + i - each) * step).toPrecision(12)));
}

/**
 * Settings to try where nobody says which: so far as the noon sun of the solstices asks for, with room for mornings and evenings in summer,
 * when it stands farther to the poles; in steps that an opening forgives.
 * @returns rising; degrees or mm
 */
export function usualSettingsOf(scene: Scene, kind: ResetKind, mode: ReceiverMode): readonly number[] {
  const [equinox, ...solstices] = noonProfiles(scene);
  const dish = scene.rows.length > 0 ? dishOfRow(scene, scene.rows[0]) : null;
  const place = receiverFromDish(scene);
  const aperture = dish?.receiver?.design.aperture;
  const opening = aperture === undefined ? USUAL_OPENING : leastWidth(aperture);
  if (kind === 'tilt') {
    const off = dish === null ? 0 : (Math.PI / 2 - equinox - dish.designTilt) / DEGREE;
    const goAlong = mode.kind === 'following' && (mode.free ?? [true, true, true]).every(Boolean);
    if (goAlong) return evenly(off, 30, turnsAsOne(scene, mode) ? 1.5 : 3);
    return evenly(off / 2, 15, 1);
  }
  if (place === null || dish === null) return evenly(0, 300, 60);
  const [, across, up] = place;
  const distance = Math.hypot(across, up);
  // The beam leaves the mirror as far to one side of its axis as the sun stands to the other.
  const axis = Math.PI / 2 - dish.designTilt - dish.tiltSetting;
  const shifts = [equinox, ...solstices].map((sun) => {
    const beam = 2 * axis - sun;
    const far = kind === 'across' ? up / Math.sin(beam) : -across / Math.cos(beam);
    const reached = far > 0 ? Math.min(REMOTEST, Math.max(CLOSEST, far / distance)) : REMOTEST;
    return kind === 'across'
      ? -reached * distance * Math.cos(beam) - across
      : reached * distance * Math.sin(beam) - up;
  });
  const [low, high] = [Math.min(0, ...shifts), Math.max(0, ...shifts)];
  const step = 10 * Math.ceil(100 * Math.max(opening / 3, (high - low) / (MOST_SETTINGS - 4)));
  return evenly((1000 * (low + high)) / 2, (1000 * (high - low)) / 2 + step, step);
}

export interface SettingOptions extends SeasonOptions {
  readonly kind: ResetKind;
  /** Rising; degrees or mm. */
  readonly values: readonly number[];
  readonly settingPool: TaskPool<SettingNodeTask, SettingNodeReply>;
  readonly onStage?: (text: string) => void;
}

export interface SettingEnergy {
  readonly table: SettingTable;
  /** Sun positions traced or recorded. */
  readonly traced: number;
  /** 97.5 % sure to be above the table's own error, relative; null for recorded light, whose level `levelOfPlans` finds. */
  readonly bound: number | null;
  /** Of recorded light; null where all tilts are read from one optics table. */
  readonly lattice: SettingLattice | null;
}

/** Of one table for all tilts: coarser than a year that is reported. */
const SHARED_TOLERANCE = 0.005;
const SHARED_NODES = 1600;

/**
 * The energy of each day at each setting, with PARTS replicates. Settings share their random numbers.
 * @throws what `buildOpticsTable` and `settingLattice` throw
 */
export async function settingEnergy(options: SettingOptions): Promise<SettingEnergy> {
  const { scene, mode, kind, onStage } = options;
  if (kind === 'tilt' && turnsAsOne(scene, mode)) {
    onStage?.('all tilts from one table');
    return turnedEnergy(options);
  }
  onStage?.(RESET_KINDS[kind].name);
  return recordedEnergy(options);
}

function litPoints({ season }: SettingOptions): readonly SunPoint[] {
  return season.points.filter(({ energy }) => energy > 0);
}

function tableOf(
  { kind, values, season }: SettingOptions,
  replicates: readonly Float64Array[],
): SettingTable {
  const { name, unit } = RESET_KINDS[kind];
  const settings = values.map((value) => ({ label: `${value} ${unit}`, value }));
  return tableOfReplicates({ name, unit }, settings, season.days, replicates);
}

async function turnedEnergy(options: SettingOptions): Promise<SettingEnergy> {
  const { scene, season, values } = options;
  const points = litPoints(options);
  const turned = turnedSuns(scene, points, values);
  const table = await tableFor(options, withTiltSetting(scene, 0), turned.suns, turned.energy, {
    tolerance: options.tolerance ?? SHARED_TOLERANCE,
    mostNodes: SHARED_NODES,
  });
  const buckets = season.days * values.length;
  const bucketOf = Int32Array.from(
    turned.suns,
    (_, i) => points[Math.floor(i / values.length)].day * values.length + (i % values.length),
  );
  const sums = sumByBucket(table, bucketOf, buckets);
  const perKwh = mirrorArea(scene) / JOULES_PER_KWH;
  const length = table.groups * PARTS * SHARES.length;
  const replicates = Array.from({ length: PARTS }, (_, part) =>
    Float64Array.from(
      { length: buckets },
      (_entry, bucket) => sums[bucket * length + part * SHARES.length] * perKwh,
    ),
  );
  return {
    table: tableOf(options, replicates),
    traced: table.traced,
    bound: table.check.bound,
    lattice: null,
  };
}

async function recordedEnergy(options: SettingOptions): Promise<SettingEnergy> {
  const { scene, mode, kind, values, season, seed, settingPool, stop, onNodes } = options;
  const lattice = await settingLattice({
    scene,
    mode,
    kind,
    values,
    points: litPoints(options),
    days: season.days,
    seed,
    pool: settingPool,
    ...(stop === undefined ? {} : { stop }),
    ...(onNodes === undefined ? {} : { onNodes }),
  });
  const perKwh = mirrorArea(scene) / JOULES_PER_KWH;
  const replicates = lattice.parts.map((part) => part.map((energy) => energy * perKwh));
  return { table: tableOf(options, replicates), traced: lattice.nodes, bound: null, lattice };
}

/** What traces say of a table of recorded light. */
export interface Level {
  readonly places: number;
  /** Traced over recorded, as the plans use the table. */
  readonly ratio: number;
  readonly std_err: number;
}

/** Moments traced for a level. */
const LEVEL_PLACES = 96;
/**
 * Share of the chance to be drawn that goes by the beam's energy alone: where recorded light sees nothing, light that strays in from
 * neighbouring dishes may be caught all the same.
 */
const BY_BEAM = 0.3;
const NODES_PER_MESSAGE = 2;

/**
 * The level of a table of recorded light, by traces of moments at the settings that plans hold then, receivers looked for from nothing,
 * with all that recorded light does not know: drawn by the energy that the plans catch by the table, and a part of them by the beam's
 * energy alone. Each counts by the inverse of its chance, so the level is free of bias for the energy of the plans together.
 * @param plans a moment and setting counts as often as plans hold it
 * @throws StudyStopped, NodeFailure
 */
export async function levelOfPlans(
  options: SettingOptions,
  lattice: SettingLattice,
  plans: readonly ResettingPlan[],
): Promise<Level> {
  const { values } = options;
  const points = litPoints(options);
  const held = plans.map(settingByDay);
  const candidates = points.flatMap(({ day, energy }, point) => {
    const uses = new Float64Array(values.length);
    for (const settings of held) uses[settings[day]]++;
    return values.flatMap((_, setting) =>
      uses[setting] > 0
        ? [{ point, setting, foretold: lattice.shareAt(point, setting), weight: uses[setting] * energy }]
        : [],
    );
  });
  const beam = candidates.reduce((sum, { weight }) => sum + weight, 0);
  const caught = candidates.reduce((sum, { weight, foretold }) => sum + weight * foretold, 0);
  if (!(caught > 0)) return { places: 0, ratio: 1, std_err: 0 };
  const chances = candidates.map(
    ({ weight, foretold }) => weight * (BY_BEAM / beam + ((1 - BY_BEAM) * Math.max(0, foretold)) / caught),
  );
  const all = chances.reduce((sum, chance) => sum + chance, 0);
  const drawn: number[] = [];
  let passed = 0;
  for (const [i, chance] of chances.entries()) {
    passed += chance;
    while (drawn.length < LEVEL_PLACES && ((drawn.length + 0.5) * all) / LEVEL_PLACES < passed) drawn.push(i);
  }
  const traced = await tracedAt(
    options,
    drawn.map((i) => ({ point: points[candidates[i].point], value: values[candidates[i].setting] })),
  );
  const off = drawn.map((i, n) => {
    const { weight, foretold } = candidates[i];
    return ((traced[n] - foretold) * weight * all) / (chances[i] * caught);
  });
  const mean = off.reduce((sum, one) => sum + one, 0) / off.length;
  const squares = off.reduce((sum, one) => sum + (one - mean) ** 2, 0);
  return {
    places: off.length,
    ratio: 1 + mean,
    std_err: Math.sqrt(squares / (off.length * Math.max(1, off.length - 1))),
  };
}

/** Share caught at moments and settings, each traced by itself. */
async function tracedAt(
  { scene, mode, kind, seed, rays, pool, stop, onNodes }: SettingOptions,
  moments: readonly { readonly point: SunPoint; readonly value: number }[],
): Promise<Float64Array> {
  const order = Array.from(moments.keys()).sort((a, b) => moments[a].value - moments[b].value || a - b);
  const messages: number[][] = [];
  for (const i of order) {
    const last = messages.at(-1);
    if (last && last.length < NODES_PER_MESSAGE && moments[last[0]].value === moments[i].value) last.push(i);
    else messages.push([i]);
  }
  const caught = new Float64Array(moments.length);
  const tasks = messages.map((mine) => ({
    scene: withoutMaps(sceneAtSetting(scene, kind, moments[mine[0]].value)),
    mode,
    seed,
    rays,
    searchRays: SEARCH_RAYS,
    perReceiver: false,
    nodes: mine.map((i) => ({ key: `level ${i}`, sun: moments[i].point.sun, near: null })),
  }));
  let traced = 0;
  await doAll(tasks, {
    pool,
    stop,
    onReply: ({ nodes }, message) => {
      nodes.forEach(({ shares }, n) => {
        const i = messages[message][n];
        for (let part = 0; part < PARTS; part++) caught[i] += shares[part * SHARES.length] / PARTS;
      });
      traced += nodes.length;
      onNodes?.(traced);
    },
  });
  return caught;
}

/** The table raised or lowered to a level, whose error all its entries share. */
export function atLevel(table: SettingTable, { ratio, std_err }: Level): SettingTable {
  const { kind, settings, days, replicates_kwh = [table.energy_kwh] } = table;
  const scaled = tableOfReplicates(
    kind,
    settings,
    days,
    replicates_kwh.map((one) => one.map((energy) => ratio * energy)),
  );
  return { ...scaled, level_std_err: ratio > 0 ? std_err / ratio : 0 };
}

/** 97.5 % sure to be above the relative error of a level. */
export function boundOfLevel({ places, ratio, std_err }: Level): number {
  return places > 1 && ratio > 0 ? (studentT975(places - 1) * std_err) / ratio : 0;
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
