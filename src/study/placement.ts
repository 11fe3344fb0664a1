/**
 * Where a receiver catches most. The light that leaves the mirrors is recorded once; then receivers are moved through it, which
 * costs a hundredth of a trace. What such a search finds is traced afterwards: nothing here is reported as a result.
 */
import { directionToLocal, levelFrame } from '../field/frame.js';
import { dishOfRow } from '../field/layout.js';
import { placeDishReceiver } from '../field/receiver.js';
import type { Frame, PlacedReceiver } from '../field/types.js';
import { add, addScaled, dot, norm, normalise, scale, subtract } from '../field/vector.js';
import type { SharedTables } from '../prepare.js';
import { LEAVING_REALS, recordLight } from '../run/light.js';
import type { DishDesign, DishReceiver, ReceiverDesign, Scene, Vec3 } from '../scene/types.js';
import { movingHeading, NO_OFFSET, type Offset, withReceiversAt } from './moving.js';
import { prepareAtMoment } from './trace.js';

/** Light of all receivers that move alike: one dish design, or one receiver that stands by itself. */
interface LightGroup {
  readonly design: ReceiverDesign;
  /** LEAVING_REALS of each ray, in the row's frame about the dish's centre (a standing receiver: about where it stands). */
  readonly rays: Float64Array;
  /** Where the receiver is in that frame when moved. */
  readonly frameAt: (offset: Offset) => Frame;
}

export interface Light {
  readonly groups: readonly LightGroup[];
  /** Watts of all rays. */
  readonly power: number;
  readonly beam: Beam;
}

/** Where light comes from and goes to, relative to the place of its receiver at offset 0. */
export interface Beam {
  /** Mean point of the mirrors that it leaves. */
  readonly from: Vec3;
  readonly along: Vec3;
  /** From there to the place of the receiver at offset 0, metres. */
  readonly distance: number;
}

/** What moves alike, and where its receiver is in the moving frame. */
interface Mover {
  readonly key: string;
  readonly frameAt: (offset: Offset) => Frame;
}

/** The placed receiver's frame in the axes of its row, with its own place as origin; moved by an offset. */
function standingMover(scene: Scene, name: string, frame: Frame): Mover {
  const row = levelFrame([0, 0, 0], movingHeading(scene, name));
  const turned = {
    x: directionToLocal(row, frame.x),
    y: directionToLocal(row, frame.y),
    z: directionToLocal(row, frame.z),
  };
  return { key: `receiver ${name}`, frameAt: (offset) => ({ origin: offset, ...turned }) };
}

const OWN_FRAME: Frame = { origin: [0, 0, 0], x: [1, 0, 0], y: [0, 1, 0], z: [0, 0, 1] };

function dishMover(dish: DishDesign, receiver: DishReceiver): Mover {
  return {
    key: `dish ${dish.name}`,
    frameAt: (offset) =>
      placeDishReceiver(dish.name, dish, { ...receiver, offset: add(receiver.offset, offset) }, OWN_FRAME)
        .frame,
  };
}

/** One per receiver, in the order of the laid-out scene. */
function moversOf(scene: Scene, receivers: readonly PlacedReceiver[]): Mover[] {
  const movers = scene.receivers.map(({ name }, index) => standingMover(scene, name, receivers[index].frame));
  for (const row of scene.rows) {
    const dish = dishOfRow(scene, row);
    if (row.receiver !== null || dish.receiver === null) continue;
    const mover = dishMover(dish, dish.receiver);
    for (let dishes = row.dishes * row.rows; dishes > 0; dishes--) movers.push(mover);
  }
  return movers;
}

/** Receivers wait here while light is recorded, far below the mirrors, so that they cast no shadow: they will stand elsewhere. */
const OUT_OF_THE_SUN: Offset = [0, 0, -100];

/**
 * Records the light of a scene at its own moment. Receivers cast no shadow in it.
 * @param rays about so many in all
 * @param shared one for all scenes of a study, see `PrepareOptions`
 * @throws GeometryError, SunBelowHorizonError, NothingLitError, NoLeavingLightError (toroid facets)
 */
export function lightOf(scene: Scene, seed: string, rays: number, shared?: SharedTables): Light {
  const prepared = prepareAtMoment(withReceiversAt(scene, OUT_OF_THE_SUN), shared, 'leaving');
  const { field } = prepared;
  const light = recordLight(prepared, seed, rays);
  const movers = moversOf(scene, field.receivers);
  const counts = new Map<string, number>();
  for (const home of light.home) counts.set(movers[home].key, (counts.get(movers[home].key) ?? 0) + 1);
  const made = new Map<string, { group: LightGroup; filled: number; from: Frame }>();
  let power = 0;
  for (const [ray, home] of light.home.entries()) {
    const { key, frameAt } = movers[home];
    let entry = made.get(key);
    if (entry === undefined) {
      const rays = new Float64Array((counts.get(key) ?? 0) * LEAVING_REALS);
      const group = { design: field.receivers[home].design, rays, frameAt };
      entry = { group, filled: 0, from: frameAt(OUT_OF_THE_SUN) };
      made.set(key, entry);
    }
    const { x, y, z, origin } = entry.from;
    const { rays } = entry.group;
    const read = ray * LEAVING_REALS;
    const write = entry.filled * LEAVING_REALS;
    for (let c = 0; c < 3; c++) {
      rays[write + c] =
        origin[c] + light.reals[read] * x[c] + light.reals[read + 1] * y[c] + light.reals[read + 2] * z[c];
      rays[write + 3 + c] =
        light.reals[read + 3] * x[c] + light.reals[read + 4] * y[c] + light.reals[read + 5] * z[c];
    }
    rays[write + 6] = light.reals[read + 6];
    power += rays[write + 6];
    entry.filled++;
  }
  const groups = Array.from(made.values(), ({ group }) => group);
  return { groups, power, beam: beamOf(groups) };
}

interface Caught {
  /** Watts through the aperture. */
  readonly watts: number;
  /** Of these, watts through an aperture INNER_SIZE times as large. */
  readonly inner: number;
  /** Where they come through, watts times metres. */
  readonly u: number;
  readonly v: number;
}

/** Where several places catch all light, the one with more of it well inside the opening is taken. */
const INNER_SIZE = 0.6;
const INNER_WEIGHT = 0.002;

/**
 * @param frame of the receiver
 * @param size the aperture is taken so many times as large
 * @param step only each so-many-eth ray is looked at
 */
function throughAperture({ design, rays }: LightGroup, frame: Frame, size: number, step: number): Caught {
  const { aperture } = design;
  const [ox, oy, oz] = frame.origin;
  const [xx, xy, xz] = frame.x;
  const [yx, yy, yz] = frame.y;
  const [zx, zy, zz] = frame.z;
  const tube = aperture.shape === 'tube';
  const round = aperture.shape === 'round';
  const halfU = tube ? aperture.length / 2 : round ? aperture.diameter / 2 : aperture.width / 2;
  const halfV = tube || round ? aperture.diameter / 2 : aperture.height / 2;
  const perU = 1 / (size * halfU) ** 2;
  const perV = 1 / (size * halfV) ** 2;
  const innerLimit = INNER_SIZE ** 2;
  let watts = 0;
  let inner = 0;
  let sumU = 0;
  let sumV = 0;
  for (let r = 0; r < rays.length; r += LEAVING_REALS * step) {
    const px = rays[r] - ox;
    const py = rays[r + 1] - oy;
    const pz = rays[r + 2] - oz;
    const dx = rays[r + 3];
    const dy = rays[r + 4];
    const dz = rays[r + 5];
    const dw = dx * zx + dy * zy + dz * zz;
    const w = px * zx + py * zy + pz * zz;
    const dv = dx * yx + dy * yy + dz * yz;
    const v0 = px * yx + py * yy + pz * yz;
    if (!tube && !(dw < 0 && w > 0)) continue;
    // A tube: the nearest approach to its axis, in the plane across it.
    const t = tube ? -(v0 * dv + w * dw) / (dv * dv + dw * dw) : -w / dw;
    if (!(t > 0)) continue;
    const u = px * xx + py * xy + pz * xz + t * (dx * xx + dy * xy + dz * xz);
    const v = v0 + t * dv;
    const depth = w + t * dw;
    const su = u * u * perU;
    const sv = (tube ? v * v + depth * depth : v * v) * perV;
    const scale = round ? su + sv : Math.max(su, sv);
    if (!(scale <= 1)) continue;
    const power = rays[r + 6];
    watts += power;
    if (scale <= innerLimit) inner += power;
    sumU += power * u;
    sumV += power * v;
  }
  return { watts, inner, u: sumU, v: sumV };
}

/**
 * Watts through all apertures with the receivers moved by `offset`. Bodies of receivers and blockers stop nothing here.
 * @param step takes only each so-many-eth ray (watts are scaled up)
 */
export function caughtAt(light: Light, offset: Offset, step = 1): number {
  let sum = 0;
  for (const group of light.groups) sum += throughAperture(group, group.frameAt(offset), 1, step).watts;
  return step * sum;
}

/**
 * A receiver does not come nearer to the mirrors, or go farther from them, than these parts of the distance at which the scene has it:
 * where no spot is as small as the opening, most would be caught right in front of a mirror, where no receiver can stand.
 */
const CLOSEST = 0.5;
const REMOTEST = 2;

/** What searches climb, watts and a trifle for light well inside the opening: -1 where no receiver can stand. */
export function worth(light: Light, offset: Offset, step: number): number {
  const away = norm(subtract(offset, light.beam.from)) / light.beam.distance;
  if (!(away >= CLOSEST && away <= REMOTEST)) return -1;
  let sum = 0;
  for (const group of light.groups) {
    const { watts, inner } = throughAperture(group, group.frameAt(offset), 1, step);
    sum += watts + INNER_WEIGHT * inner;
  }
  return step * sum;
}

/** Moves the opening to the middle of the light it catches, again and again: the way a disc climbs to where rays are densest. */
function centred(light: Light, start: Offset, free: Free, step: number, rounds: number): Offset {
  let offset = start;
  for (let round = 0; round < rounds; round++) {
    let sum = 0;
    let move: Vec3 = [0, 0, 0];
    for (const group of light.groups) {
      const frame = group.frameAt(offset);
      // A wider opening first, so that it feels light it does not catch yet.
      const { watts, u, v } = throughAperture(group, frame, round === 0 ? 3 : 1, step);
      sum += watts;
      move = addScaled(addScaled(move, frame.x, u), frame.y, v);
    }
    if (!(sum > 0)) return offset;
    offset = add(offset, [
      free[0] ? move[0] / sum : 0,
      free[1] ? move[1] / sum : 0,
      free[2] ? move[2] / sum : 0,
    ]);
  }
  return offset;
}

function beamOf(groups: readonly LightGroup[]): Beam {
  let watts = 0;
  let point: Vec3 = [0, 0, 0];
  let direction: Vec3 = [0, 0, 0];
  let distance = 0;
  for (const { rays, frameAt } of groups) {
    const { origin } = frameAt(NO_OFFSET);
    let [px, py, pz, dx, dy, dz, own] = [0, 0, 0, 0, 0, 0, 0];
    for (let r = 0; r < rays.length; r += LEAVING_REALS) {
      const w = rays[r + 6];
      own += w;
      px += w * rays[r];
      py += w * rays[r + 1];
      pz += w * rays[r + 2];
      dx += w * rays[r + 3];
      dy += w * rays[r + 4];
      dz += w * rays[r + 5];
    }
    if (own === 0) continue;
    const middle = subtract([px / own, py / own, pz / own], origin);
    watts += own;
    point = addScaled(point, middle, own);
    direction = add(direction, [dx, dy, dz]);
    distance += own * norm(middle);
  }
  if (watts === 0) return { from: [0, 0, -1], along: [0, 0, 1], distance: 1 };
  return { from: scale(point, 1 / watts), along: normalise(direction), distance: distance / watts };
}

export interface Placement {
  readonly offset: Offset;
  /** Watts through the openings there, by the rays of the search itself: a little too high (it was chosen for them). */
  readonly caught: number;
}

/** Which ways the receivers can move: along the row, across it, up and down. */
export type Free = readonly [boolean, boolean, boolean];

/** All ways; but a line receiver or tube, which is as long as its row, is not moved along it. */
function usualFreedom(light: Light): Free {
  return [light.groups.some(({ design }) => design.kind === 'plate' || design.kind === 'cavity'), true, true];
}

/** Distances from the mirrors tried, in parts of the one at which the scene has its receivers. */
const NEAREST = 0.55;
const FARTHEST = 1.75;
const DISTANCES = 25;
/** Rays looked at in the first, coarse look. */
const COARSE_RAYS = 3072;
/** Steps of the climb, metres: halved from the first to the last. */
const FIRST_STEP = 0.032;
const FINE_STEP = 0.004;
const LAST_STEP = 0.001;

/** Each so-many-eth ray for a coarse look; odd, so that it does not fall in with the powers of two of the lattices. */
export function coarseStep(light: Light, wanted: number = COARSE_RAYS): number {
  const rays = light.groups.reduce((sum, group) => sum + group.rays.length / LEAVING_REALS, 0);
  return Math.max(1, Math.floor(rays / wanted)) | 1;
}

/**
 * Directions to climb in: along the beam, where the catch falls slowly, and across it, as far as the receivers are free to go there.
 * Steps along the row's own axes would stall on the slanting ridge that a beam off its axis makes.
 */
function climbingDirections(beam: Vec3, free: Free): readonly Vec3[] {
  const held = (v: Vec3): Vec3 => [free[0] ? v[0] : 0, free[1] ? v[1] : 0, free[2] ? v[2] : 0];
  const directions: Vec3[] = [];
  const axes: readonly Vec3[] = [beam, [1, 0, 0], [0, 1, 0], [0, 0, 1]];
  for (const axis of axes) {
    let rest = held(axis);
    for (const taken of directions) rest = addScaled(rest, taken, -dot(rest, taken));
    if (norm(rest) > 0.2) directions.push(normalise(rest));
  }
  return directions;
}

/**
 * Climbs with steps halved from the first to the last: along each direction in turn, and then as far again along the way that a
 * whole round has led (Hooke & Jeeves, J. ACM 8 (1961) 212, from memory).
 */
function climb(
  light: Light,
  start: Offset,
  directions: readonly Vec3[],
  step: number,
  first: number,
  last: number,
): Offset {
  let best = start;
  let most = worth(light, best, step);
  const tryAt = (trial: Offset): boolean => {
    const value = worth(light, trial, step);
    if (!(value > most)) return false;
    most = value;
    best = trial;
    return true;
  };
  for (let size = first; size >= last; size /= 2) {
    for (let round = 0; round < 12; round++) {
      const before = best;
      for (const direction of directions) {
        if (!tryAt(addScaled(best, direction, size))) tryAt(addScaled(best, direction, -size));
      }
      if (best === before) break;
      tryAt(addScaled(best, subtract(best, before), 1));
    }
  }
  return best;
}

/** So many of the places of a coarse look are climbed from. */
const COARSE_CLIMBS = 6;
/** So many of the places reached are looked at with all rays: where nothing is known, and near a known place. */
const FULL_CLIMBS = 3;
const FULL_CLIMBS_NEAR = 2;
/** Climbs that end so near one another, metres, have found the same place. */
const SAME_PLACE = 0.03;
/** Steps along the beam that are tried from a known place, metres: the catch falls slowly that way, and has more than one top. */
const STEPS_NEAR = [-0.24, -0.12, -0.05, 0, 0.05, 0.12, 0.24];

interface Tried {
  readonly offset: Offset;
  readonly value: number;
}

/**
 * Places to start from where nothing is known: along the beam, each moved to the middle of its light. The two foci of a mirror off its
 * axis lie at f cos i and f / cos i, and between them, or at either, the light may be densest.
 */
function alongBeam(light: Light, free: Free, step: number): readonly Tried[] {
  const { from, along, distance } = light.beam;
  const tried: Tried[] = [{ offset: NO_OFFSET, value: worth(light, NO_OFFSET, step) }];
  for (let k = 0; k < DISTANCES; k++) {
    const far = distance * (NEAREST + ((FARTHEST - NEAREST) * k) / (DISTANCES - 1));
    const onAxis = addScaled(from, along, far);
    const first: Offset = [free[0] ? onAxis[0] : 0, free[1] ? onAxis[1] : 0, free[2] ? onAxis[2] : 0];
    const offset = centred(light, first, free, step, 5);
    tried.push({ offset, value: worth(light, offset, step) });
  }
  return tried.sort((a, b) => b.value - a.value).slice(0, COARSE_CLIMBS);
}

/** Places to start from about a known one. */
function about(light: Light, near: Offset, beam: Vec3, free: Free, step: number): readonly Tried[] {
  return STEPS_NEAR.map((size) => {
    const offset = centred(light, addScaled(near, beam, size), free, step, 1);
    return { offset, value: worth(light, offset, step) };
  });
}

/** Where climbs with few rays end, the best first, none twice. */
function climbedCoarsely(
  light: Light,
  starts: readonly Tried[],
  directions: readonly Vec3[],
  step: number,
): readonly Offset[] {
  const climbed = starts.map((start) => {
    const offset = climb(light, start.offset, directions, step, FIRST_STEP, FINE_STEP);
    return { offset, value: worth(light, offset, step) };
  });
  climbed.sort((a, b) => b.value - a.value);
  const apart: Offset[] = [];
  for (const { offset } of climbed) {
    if (apart.every((other) => norm(subtract(offset, other)) > SAME_PLACE)) apart.push(offset);
  }
  return apart;
}

export interface PlacementOptions {
  /** A place known to be near the best, e.g. that of a neighbouring time: then the search only climbs from there. */
  readonly near?: Offset;
  /** Default: all ways; but receivers of line kinds are not moved along the row. */
  readonly free?: Free;
}

/**
 * The offset at which the receivers catch most, all moved alike.
 * @returns null where no light leaves the mirrors
 */
export function bestPlace(light: Light, options: PlacementOptions = {}): Placement | null {
  if (!(light.power > 0)) return null;
  const { near, free = usualFreedom(light) } = options;
  const directions = climbingDirections(light.beam.along, free);
  const step = coarseStep(light);
  const first =
    near === undefined ? alongBeam(light, free, step) : about(light, near, directions[0], free, step);
  const starts = climbedCoarsely(light, first, directions, step).slice(
    0,
    near === undefined ? FULL_CLIMBS : FULL_CLIMBS_NEAR,
  );
  let best: Offset = NO_OFFSET;
  let most = Number.NEGATIVE_INFINITY;
  for (const start of starts) {
    const offset = climb(light, start, directions, 1, 2 * FINE_STEP, LAST_STEP);
    const value = worth(light, offset, 1);
    if (value > most) {
      most = value;
      best = offset;
    }
  }
  return { offset: best, caught: caughtAt(light, best) };
}

/**
 * The best place along a given path.
 * @param path offsets in order, two at least; between them the receivers go straight
 * @returns also how far along the path it is, metres from its first point; null where no light leaves the mirrors
 * @throws RangeError for a path of one point or none
 */
export function bestAlong(
  light: Light,
  path: readonly Offset[],
): (Placement & { readonly along: number }) | null {
  if (path.length < 2) throw new RangeError('a path takes two points');
  if (!(light.power > 0)) return null;
  const total = pathLength(path);
  const pieces = Math.max(32, Math.ceil(total / 0.01));
  const coarse = coarseStep(light);
  let along = 0;
  let most = Number.NEGATIVE_INFINITY;
  for (let k = 0; k <= pieces; k++) {
    const value = worth(light, placeOnPath(path, (total * k) / pieces), coarse);
    if (value > most) {
      most = value;
      along = (total * k) / pieces;
    }
  }
  if (!(most > 0)) along = nearestToBeam(light, path, total, pieces);
  most = worth(light, placeOnPath(path, along), 1);
  for (let size = (2 * total) / pieces; size >= LAST_STEP; size /= 2) {
    for (const factor of [2, 1, -1, -2]) {
      const trial = Math.min(total, Math.max(0, along + factor * size));
      const value = worth(light, placeOnPath(path, trial), 1);
      if (value > most) {
        most = value;
        along = trial;
      }
    }
  }
  const offset = placeOnPath(path, along);
  return { offset, caught: caughtAt(light, offset), along };
}

/** Where a path that catches nothing comes nearest to the light: the end it has run out of, as a rule. */
function nearestToBeam({ beam }: Light, path: readonly Offset[], total: number, pieces: number): number {
  let along = 0;
  let least = Number.POSITIVE_INFINITY;
  for (let k = 0; k <= pieces; k++) {
    const way = subtract(placeOnPath(path, (total * k) / pieces), beam.from);
    const beside = norm(addScaled(way, beam.along, -dot(way, beam.along)));
    if (beside < least) {
      least = beside;
      along = (total * k) / pieces;
    }
  }
  return along;
}

export function pathLength(path: readonly Offset[]): number {
  let length = 0;
  for (let i = 1; i < path.length; i++) length += norm(subtract(path[i], path[i - 1]));
  return length;
}

/** The place so many metres along the path from its first point; the ends hold beyond them. */
export function placeOnPath(path: readonly Offset[], along: number): Offset {
  let rest = along;
  for (let i = 1; i < path.length; i++) {
    const piece = subtract(path[i], path[i - 1]);
    const length = norm(piece);
    if (rest <= length && length > 0) return addScaled(path[i - 1], piece, Math.max(0, rest) / length);
    rest -= length;
  }
  return path[path.length - 1];
}

/** Least width of the openings, metres: a length to measure misplacements by. */
export function smallestOpening(light: Light): number {
  return Math.min(
    ...light.groups.map(({ design: { aperture } }) =>
      aperture.shape === 'rectangle' ? Math.min(aperture.width, aperture.height) : aperture.diameter,
    ),
  );
}
