/**
 * What receivers catch with the sun in one direction at each of many settings, from recorded light. Moved receivers leave the light of
 * the mirrors as it is, so it is recorded once for all settings of theirs; each tilt of the mirrors takes light of its own. Recorded light
 * knows the shadows of receivers, what they block and the light that strays in from neighbours only within a row: traces tell how much is
 * missing.
 */
import { add, addScaled, dot, norm, normalise } from '../field/vector.js';
import { SharedTables } from '../prepare.js';
import { NothingLitError } from '../run/plan.js';
import type { Scene, Vec3 } from '../scene/types.js';
import { caughtAt, feltAt } from './catch.js';
import { type Light, lightOf, smallestOpening } from './light.js';
import { forSearch, NO_OFFSET, type Offset, withMoment, withReceiversAt, withTiltSetting } from './moving.js';
import { PARTS, type ReceiverMode } from './optics-table-node.js';
import { coarseStep, type Free, pathLength, placeNear, placeOnPath, usualFreedom } from './placement.js';
import { mirrorArea } from './season.js';

/** What is re-set: the tilt of all mirrors (degrees), or where the receivers' places start from (mm), across the row or up. */
export type ResetKind = 'tilt' | 'across' | 'up';

const DEGREE = Math.PI / 180;

/** Where the receivers' places start from at a setting; a tilt leaves them. */
function baseOf(kind: ResetKind, value: number): Offset {
  switch (kind) {
    case 'tilt':
      return NO_OFFSET;
    case 'across':
      return [0, value / 1000, 0];
    case 'up':
      return [0, 0, value / 1000];
  }
}

/** @param value degrees or mm */
export function sceneAtSetting(scene: Scene, kind: ResetKind, value: number): Scene {
  return kind === 'tilt'
    ? withTiltSetting(scene, value * DEGREE)
    : withReceiversAt(scene, baseOf(kind, value));
}

export interface SettingNodeTask {
  readonly scene: Scene;
  readonly mode: ReceiverMode;
  readonly kind: ResetKind;
  /** Degrees or mm. */
  readonly values: readonly number[];
  readonly seed: string;
  /** About so many rays of recorded light for each sun, in PARTS independent parts. */
  readonly rays: number;
  /** Towards the sun, world frame, with a name of its own for each. */
  readonly suns: readonly { readonly key: string; readonly sun: Vec3 }[];
}

export type SettingNodeReply =
  /** Of each sun, entry [part * values + value]: share of DNI x mirror area caught. */
  | { readonly ok: true; readonly caught: readonly Float64Array[] }
  | { readonly ok: false; readonly name: string; readonly message: string };

/** Never throws: whatever goes wrong comes back by name and message. */
export function catchAtSettings(task: SettingNodeTask): SettingNodeReply {
  try {
    const shared = new SharedTables();
    const { kind, values } = task;
    // Not cut short here: the shares of dishes that have neighbours are those of the row as it is built.
    const { scene } = task;
    const area = mirrorArea(forSearch(scene));
    const scenes =
      kind === 'tilt' ? values.map((value) => sceneAtSetting(scene, kind, value)) : values.map(() => scene);
    const caught = task.suns.map(({ key, sun }) => {
      const shares = new Float64Array(PARTS * values.length);
      let parts: Parts | null = null;
      values.forEach((value, k) => {
        // Settings share the names of their random numbers, so that their differences are known better than they are.
        const seed = `${task.seed}/${key}`;
        if (kind === 'tilt') parts = partsOf(scenes[k], sun, seed, task, shared, baseOf(kind, value));
        else if (k === 0) parts = partsOf(scene, sun, seed, task, shared, null);
        if (parts === null) return;
        const place = placeOf(parts.all, task.mode, baseOf(kind, value));
        if (place === null) return;
        for (const [part, light] of parts.each.entries()) {
          shares[part * values.length + k] = caughtAt(light, place) / (DNI * area);
        }
      });
      return shares;
    });
    return { ok: true, caught };
  } catch (error) {
    return error instanceof Error
      ? { ok: false, name: error.name, message: error.message }
      : { ok: false, name: 'Error', message: String(error) };
  }
}

/** Beam irradiance, W/m2. Shares do not depend on it. */
const DNI = 1000;

/** Light of one sun in independent parts, each with all the power, and all of them as one to look for places in. */
interface Parts {
  readonly each: readonly Light[];
  readonly all: Light;
}

/** Where the first part of the light sees less than this share of itself caught, no more of it is recorded. */
const LEAST_CAUGHT = 0.002;

/**
 * @param only the base of the one setting that the light is for: none is recorded where that catches nothing; null for several
 * @returns null where no mirror faces the sun, or nothing is caught
 */
function partsOf(
  scene: Scene,
  sun: Vec3,
  seed: string,
  { rays, mode }: SettingNodeTask,
  shared: SharedTables,
  only: Offset | null,
): Parts | null {
  const lit = withMoment(scene, { sunDirection: sun, dni: DNI });
  const record = (part: number) => lightOf(lit, `${seed}/${part}`, rays / PARTS, shared);
  try {
    const first = record(0);
    if (only !== null) {
      const place = placeOf(first, mode, only);
      if (place === null) return null;
      if (caughtAt(first, place) < LEAST_CAUGHT * first.power) return null;
    }
    const each = [first, ...Array.from({ length: PARTS - 1 }, (_, part) => record(part + 1))];
    return { each, all: joined(each) };
  } catch (error) {
    if (error instanceof NothingLitError) return null;
    throw error;
  }
}

function joined(lights: readonly Light[]): Light {
  const [first] = lights;
  // A dish that some parts of the light miss altogether: one part is enough to look for places in.
  if (lights.some(({ groups }) => groups.length !== first.groups.length)) return first;
  const groups = first.groups.map((group, g) => {
    const own = lights.map(({ groups: others }) => others[g].rays);
    const rays = new Float64Array(own.reduce((sum, { length }) => sum + length, 0));
    let filled = 0;
    for (const some of own) {
      rays.set(some, filled);
      filled += some.length;
    }
    return { ...group, rays };
  });
  return { ...first, groups, power: lights.reduce((sum, { power }) => sum + power, 0) };
}

/** Places tried either way of where the receivers come nearest to the beam, half an opening apart. */
const TRIED_EACH_WAY = 6;
/** Rays looked at in the first look. */
const FIRST_RAYS = 700;

/** @returns null where nothing is caught anywhere that the receivers can go */
function placeOf(light: Light, mode: ReceiverMode, base: Offset): Offset | null {
  if (!(light.power > 0)) return null;
  if (mode.kind === 'held') return base;
  const step = coarseStep(light, FIRST_RAYS);
  const half = smallestOpening(light) / 2;
  if (mode.kind === 'on_track') return placeOnTrack(light, mode.path, base, step, half);
  const free = mode.free ?? usualFreedom(light);
  const way = wayOf(light, free);
  let [best, most] = [base, 0];
  for (const start of startsOf(light, base, free)) {
    for (let k = -TRIED_EACH_WAY; k <= TRIED_EACH_WAY; k++) {
      const place = addScaled(start, way, k * half);
      const { value } = feltAt(light, place, [], step);
      if (value > most) [best, most] = [place, value];
    }
  }
  return most > 0 ? placeNear(light, best, free) : null;
}

/** The last steps along a track, metres. */
const LAST_STEP = 0.002;

function placeOnTrack(
  light: Light,
  path: readonly Offset[],
  base: Offset,
  step: number,
  half: number,
): Offset | null {
  const at = (along: number): Offset => add(base, placeOnPath(path, along));
  const total = pathLength(path);
  const pieces = Math.max(8, Math.ceil(total / half));
  let [along, most] = [0, 0];
  for (let k = 0; k <= pieces; k++) {
    const { value } = feltAt(light, at((total * k) / pieces), [], step);
    if (value > most) [along, most] = [(total * k) / pieces, value];
  }
  if (!(most > 0)) return null;
  most = feltAt(light, at(along), [], 1).value;
  for (let size = total / pieces / 2; size >= LAST_STEP; size /= 2) {
    for (const side of [1, -1]) {
      const trial = Math.min(total, Math.max(0, along + side * size));
      const { value } = feltAt(light, at(trial), [], 1);
      if (value > most) [along, most] = [trial, value];
    }
  }
  return at(along);
}

/**
 * Where receivers come nearest to the beam; and, where they can go more ways than one, below or above the place on the beam that is as far
 * from the mirrors as the scene has them: the nearest may be too far away, or anywhere along the beam.
 */
function startsOf(light: Light, base: Offset, free: Free): readonly Offset[] {
  const nearest = nearestToBeam(light, base, free);
  if (free.filter(Boolean).length < 2) return [nearest];
  const { from, along, distance } = light.beam;
  const wanted = addScaled(from, along, distance);
  return [
    nearest,
    [free[0] ? wanted[0] : base[0], free[1] ? wanted[1] : base[1], free[2] ? wanted[2] : base[2]],
  ];
}

/** The way to try places along: that of the beam, as far as the receivers are free to go it. */
function wayOf({ beam }: Light, free: Free): Vec3 {
  const [x, y, z] = beam.along;
  const held: Vec3 = [free[0] ? x : 0, free[1] ? y : 0, free[2] ? z : 0];
  if (norm(held) > 1e-3) return normalise(held);
  return [free[0] ? 1 : 0, !free[0] && free[1] ? 1 : 0, !free[0] && !free[1] && free[2] ? 1 : 0];
}

/** Keeps the equations solvable where the receivers can go along the beam itself. */
const RIDGE = 1e-6;

/** Where receivers that are free to go some ways from `base` come nearest to the middle of the beam: least squares, way by way. */
function nearestToBeam({ beam }: Light, base: Offset, free: Free): Offset {
  let place = base;
  // Each way in turn, the others held: Gauss and Seidel's rounds on at most three unknowns.
  for (let round = 0; round < 60; round++) {
    for (let axis = 0; axis < 3; axis++) {
      if (!free[axis]) continue;
      const unit: Vec3 = [axis === 0 ? 1 : 0, axis === 1 ? 1 : 0, axis === 2 ? 1 : 0];
      const across = addScaled(unit, beam.along, -dot(unit, beam.along));
      const away = addScaled(place, beam.from, -1);
      place = addScaled(place, unit, -dot(away, across) / (dot(across, across) + RIDGE));
    }
  }
  return place;
}
