/**
 * Where a receiver catches most. The light that leaves the mirrors is recorded once; then receivers are moved through it, which
 * costs a hundredth of a trace. What such a search finds is traced afterwards: nothing here is reported as a result.
 */
import { add, addScaled, dot, norm, normalise, subtract } from '../field/vector.js';
import { LEAVING_REALS } from '../run/light.js';
import type { Vec3 } from '../scene/types.js';
import { ascend } from './ascent.js';
import { caughtAt, feltAt, feltBesideBodies, throughAperture } from './catch.js';
import { type Light, smallestOpening } from './light.js';
import { NO_OFFSET, type Offset } from './moving.js';

export interface Placement {
  readonly offset: Offset;
  /** Watts through the openings there, by the rays of the search itself: a little too high (it was chosen for them). */
  readonly caught: number;
}

/** Which ways the receivers can move: along the row, across it, up and down. */
export type Free = readonly [boolean, boolean, boolean];

/** All ways; but a line receiver or tube, which is as long as its row, is not moved along it. */
export function usualFreedom(light: Light): Free {
  return [light.groups.some(({ design }) => design.kind === 'plate' || design.kind === 'cavity'), true, true];
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
      const { watts, u, v } = throughAperture(group, frame, round === 0 ? 3 : 1, step, null);
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

/** Distances from the mirrors tried, in parts of the one at which the scene has its receivers. */
const NEAREST = 0.5;
const FARTHEST = 1.75;
/** They lie so many least widths of the openings apart, but there are no more than so many. */
const APART = 0.6;
const MOST_DISTANCES = 60;
/** Rays looked at in the first, coarse look. */
const COARSE_RAYS = 3072;

/** Each so-many-eth ray for a coarse look; odd, so that it does not fall in with the powers of two of the lattices. */
export function coarseStep(light: Light, wanted: number = COARSE_RAYS): number {
  const rays = light.groups.reduce((sum, group) => sum + group.rays.length / LEAVING_REALS, 0);
  return Math.max(1, Math.floor(rays / wanted)) | 1;
}

/**
 * Directions to climb in: along the beam, where the catch falls slowly, and across it, as far as the receivers are free to go there.
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

interface Tried {
  readonly offset: Offset;
  /** As the opening feels it, see `feltAt`. */
  readonly value: number;
}

/** Steps of a climb in least widths of the openings: never longer than the first, and at an end when shorter than the last. */
const LONGEST = 1;
const FINEST_COARSELY = 0.01;
const FINEST = 0.002;
/** The catch bends about so much more slowly along the beam than across it. */
const SLOW_ALONG_BEAM = 4;

function climb(
  light: Light,
  start: Offset,
  directions: readonly Vec3[],
  step: number,
  finest: number,
): Tried {
  const opening = smallestOpening(light);
  const placeAt = (along: readonly number[]): Offset =>
    directions.reduce((place, direction, k) => addScaled(place, direction, along[k]), start);
  const { place, value } = ascend((along) => feltAt(light, placeAt(along), directions, step), {
    scales: directions.map((direction) => {
      const share = Math.abs(dot(direction, light.beam.along));
      return (opening / 2) * (1 + (SLOW_ALONG_BEAM - 1) * share);
    }),
    longest: LONGEST * opening,
    finest: finest * opening,
  });
  return { offset: placeAt(place), value };
}

/** Where bodies and neighbours change what is felt by less than this, a climb that does not know them is enough. */
const LITTLE = 0.003;
/** Steps in least widths of the openings: all about a place where it is wanted, and then one way at a time, halved to the last. */
const ABOUT = [2, 0.8];
const FIRST_ASIDE = 0.4;
const LAST_ASIDE = 0.1;
const ROUNDS_ASIDE = 6;
/** Rays looked at step by step. */
const STEP_RAYS = 5120;

/**
 * Climbs to where most is felt with all that bodies take and that neighbours' mirrors bring. Neither has slopes that rays could tell,
 * so where they matter it is tried step by step: all about first, as two ridges of light may run side by side, one of them in the
 * shadow, then by pattern moves (Hooke & Jeeves, J. ACM 8 (1961) 212, from memory).
 */
function stepByStep(
  light: Light,
  start: Offset,
  directions: readonly Vec3[],
  step: number,
  allAbout: boolean,
  neighbours: boolean,
): Tried {
  let best = start;
  let most = feltBesideBodies(light, best, step, neighbours);
  const opening = smallestOpening(light);
  const tryAt = (trial: Offset): boolean => {
    const there = feltBesideBodies(light, trial, step, neighbours);
    if (!(there > most)) return false;
    [best, most] = [trial, there];
    return true;
  };
  for (const size of allAbout ? ABOUT : []) {
    for (const place of cornersAbout(best, directions, size * opening).slice(1)) tryAt(place);
  }
  for (let size = FIRST_ASIDE * opening; size >= LAST_ASIDE * opening; size /= 2) {
    for (let round = 0; round < ROUNDS_ASIDE; round++) {
      const before = best;
      for (const direction of directions) {
        if (!tryAt(addScaled(best, direction, size))) tryAt(addScaled(best, direction, -size));
      }
      if (best === before) break;
      tryAt(addScaled(best, subtract(best, before), 1));
    }
  }
  return { offset: best, value: most };
}

/**
 * Tops reached from a place: that of a climb by slopes; where bodies or neighbours matter, that to which it moves on step by step; and
 * where neighbours do, that found step by step from the place itself, as far out, where the light of several dishes falls together,
 * slopes of the own light lead away.
 * @param step of the rays looked at step by step
 * @returns the one that catches most of all rays: steps seen by few of them may lead down
 */
function climbAllWays(
  light: Light,
  start: Offset,
  directions: readonly Vec3[],
  finest: number,
  step: number,
  allAbout: boolean,
  neighbours: boolean,
): Tried {
  const { offset } = climb(light, start, directions, 1, finest);
  const tops = [offset];
  for (const place of neighbours ? [offset, start] : [offset]) {
    const alone = feltAt(light, place, [], step).value;
    if (Math.abs(feltBesideBodies(light, place, step, neighbours) - alone) > LITTLE * alone)
      tops.push(stepByStep(light, place, directions, step, allAbout, neighbours).offset);
  }
  return tops
    .map((top): Tried => ({ offset: top, value: feltBesideBodies(light, top, 1, neighbours) }))
    .reduce((best, other) => (other.value > best.value ? other : best));
}

/** A place and those a step to either side of it along each direction, in all combinations; the place itself first. */
function cornersAbout(place: Offset, directions: readonly Vec3[], size: number): readonly Offset[] {
  return directions.reduce<readonly Offset[]>(
    (places, direction) =>
      places.flatMap((at) => [0, size, -size].map((way) => addScaled(at, direction, way))),
    [place],
  );
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

/**
 * Places to start from where nothing is known: along the beam, each moved to the middle of its light. The two foci of a mirror off its
 * axis lie at f cos i and f / cos i, and between them, or at either, the light may be densest.
 */
function alongBeam(light: Light, free: Free, step: number, neighbours: boolean): readonly Tried[] {
  const { from, along, distance } = light.beam;
  const tried: Tried[] = [{ offset: NO_OFFSET, value: feltBesideBodies(light, NO_OFFSET, step, neighbours) }];
  const range = (FARTHEST - NEAREST) * distance;
  const pieces = Math.min(MOST_DISTANCES, Math.max(1, Math.ceil(range / (APART * smallestOpening(light)))));
  for (let k = 0; k <= pieces; k++) {
    const far = NEAREST * distance + (range * k) / pieces;
    const onAxis = addScaled(from, along, far);
    const first: Offset = [free[0] ? onAxis[0] : 0, free[1] ? onAxis[1] : 0, free[2] ? onAxis[2] : 0];
    const offset = centred(light, first, free, step, 4);
    tried.push({ offset, value: feltBesideBodies(light, offset, step, neighbours) });
  }
  return tried.sort((a, b) => b.value - a.value).slice(0, COARSE_CLIMBS);
}

/** Places to start from about a known one. */
function about(light: Light, near: Offset, beam: Vec3, free: Free, step: number): readonly Offset[] {
  return [near, ...STEPS_NEAR.map((size) => centred(light, addScaled(near, beam, size), free, step, 1))];
}

/** Where climbs with few rays end and where they started from, the best first, none twice. */
function climbedCoarsely(
  light: Light,
  starts: readonly Offset[],
  directions: readonly Vec3[],
  step: number,
  neighbours: boolean,
): readonly Offset[] {
  const tried = starts
    .flatMap((start) => {
      const { offset } = climb(light, start, directions, step, FINEST_COARSELY);
      return neighbours ? [offset, start] : [offset];
    })
    .map((offset): Tried => ({ offset, value: feltBesideBodies(light, offset, step, neighbours) }));
  tried.sort((a, b) => b.value - a.value);
  const apart: Offset[] = [];
  for (const { offset } of tried) {
    if (apart.every((other) => norm(subtract(offset, other)) > SAME_PLACE)) apart.push(offset);
  }
  return apart;
}

export interface PlacementOptions {
  /** A place known to be near the best, e.g. that of a neighbouring time: then the search only climbs from there. */
  readonly near?: Offset;
  /** Default: all ways; but receivers of line kinds are not moved along the row. */
  readonly free?: Free;
  /**
   * Places are also looked for far out, where light of several dishes falls together. Default: yes. Without it a search takes half the
   * time.
   */
  readonly neighbours?: boolean;
}

/**
 * The offset at which the receivers catch most, all moved alike.
 * @returns null where no light leaves the mirrors
 */
export function bestPlace(light: Light, options: PlacementOptions = {}): Placement | null {
  if (!(light.power > 0)) return null;
  const { near, free = usualFreedom(light), neighbours = true } = options;
  const directions = climbingDirections(light.beam.along, free);
  const step = coarseStep(light);
  const first =
    near === undefined
      ? alongBeam(light, free, step, neighbours).map(({ offset }) => offset)
      : about(light, near, directions[0], free, step);
  const starts = climbedCoarsely(light, first, directions, step, neighbours).slice(
    0,
    near === undefined ? FULL_CLIMBS : FULL_CLIMBS_NEAR,
  );
  const { offset } = starts
    .map((start) =>
      climbAllWays(light, start, directions, FINEST, coarseStep(light, STEP_RAYS), true, neighbours),
    )
    .reduce((best, other) => (other.value > best.value ? other : best));
  return { offset, caught: caughtAt(light, offset) };
}

/** Tried along the beam from the guess, metres: the catch falls slowly that way, and may have two tops. */
const GUESSES = [0, -0.06, 0.06, -0.15, 0.15];
/** Rays that tell which of them to climb from, and how far out of a shadow to go. */
const GUESS_RAYS = 1280;

/**
 * @returns the place that catches most of the own dish's light of those reached by climbing from a good guess; the guess itself where
 * there is no light
 */
export function placeNear(light: Light, near: Offset, free?: Free): Offset {
  if (!(light.power > 0)) return near;
  const step = coarseStep(light, GUESS_RAYS);
  const [along] = climbingDirections(light.beam.along, free ?? usualFreedom(light));
  let [best, most] = [near, Number.NEGATIVE_INFINITY];
  for (const far of GUESSES) {
    const trial = addScaled(near, along, far);
    const value = feltBesideBodies(light, trial, step, false);
    if (value > most) [best, most] = [trial, value];
  }
  return climbedFrom(light, best, free);
}

/** @returns the top that a climb from a place ends on, by the own dish's light alone */
export function climbedFrom(light: Light, start: Offset, free: Free = usualFreedom(light)): Offset {
  const directions = climbingDirections(light.beam.along, free);
  const step = coarseStep(light, GUESS_RAYS);
  return climbAllWays(light, start, directions, FINEST_COARSELY, step, false, false).offset;
}

/** Steps of the climb along a path, metres: halved to the last. */
const LAST_STEP = 0.001;

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
    const value = feltBesideBodies(light, placeOnPath(path, (total * k) / pieces), coarse, true);
    if (value > most) {
      most = value;
      along = (total * k) / pieces;
    }
  }
  if (!(most > 0)) along = nearestToBeam(light, path, total, pieces);
  most = feltBesideBodies(light, placeOnPath(path, along), 1, true);
  for (let size = (2 * total) / pieces; size >= LAST_STEP; size /= 2) {
    for (const factor of [2, 1, -1, -2]) {
      const trial = Math.min(total, Math.max(0, along + factor * size));
      const value = feltBesideBodies(light, placeOnPath(path, trial), 1, true);
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
