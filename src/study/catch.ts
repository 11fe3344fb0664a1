/** What receivers catch of recorded light, wherever they are moved. */
import type { Frame } from '../field/types.js';
import { addScaled, dot, norm, subtract } from '../field/vector.js';
import type { Figure } from '../result/types.js';
import { LEAVING_REALS } from '../run/light.js';
import { studentT975 } from '../run/statistics.js';
import type { Vec3 } from '../scene/types.js';
import { Bodies } from './bodies.js';
import type { Light, LightGroup } from './light.js';
import type { Offset } from './moving.js';

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
 * @param bodies what may be in the way; null: nothing
 */
export function throughAperture(
  { design, rays }: LightGroup,
  frame: Frame,
  size: number,
  step: number,
  bodies: Bodies | null,
): Caught {
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
    const u0 = px * xx + py * xy + pz * xz;
    const du = dx * xx + dy * xy + dz * xz;
    const u = u0 + t * du;
    const v = v0 + t * dv;
    const depth = w + t * dw;
    const su = u * u * perU;
    const sv = (tube ? v * v + depth * depth : v * v) * perV;
    const scale = round ? su + sv : Math.max(su, sv);
    if (!(scale <= 1)) continue;
    const power = bodies === null ? rays[r + 6] : rays[r + 6] * bodies.kept(u0, v0, w, du, dv, dw, t);
    watts += power;
    if (scale <= innerLimit) inner += power;
    sumU += power * u;
    sumV += power * v;
  }
  return { watts, inner, u: sumU, v: sumV };
}

/**
 * A receiver of a dish to the side is looked at with each so-many-eth ray first, as about noon the light is far from all of them; with
 * so many rays at least.
 */
const GLANCE = 17;
const GLANCED_RAYS = 256;
/** In that look openings are so many times as large. */
const STRAY_MARGIN = 1.5;
/** Dishes to either side whose openings are looked at: light spreads too far beyond. */
const STRAY_NEIGHBOURS = 3;

/** Frames of the receivers to either side that any light of a group comes by, with the share of dishes that have them. */
function strayFrames(
  group: LightGroup,
  frame: Frame,
  step: number,
): readonly { readonly there: Frame; readonly share: number }[] {
  const rays = group.rays.length / (LEAVING_REALS * step);
  const glance = Math.max(1, Math.min(GLANCE, Math.floor(rays / GLANCED_RAYS)));
  return group.others
    .slice(0, 2 * STRAY_NEIGHBOURS)
    .map(({ along, share }) => ({
      there: { ...frame, origin: addScaled(frame.origin, [1, 0, 0], along) },
      share,
    }))
    .filter(({ there }) => throughAperture(group, there, STRAY_MARGIN, step * glance, null).watts > 0);
}

/**
 * Watts through all apertures with the receivers moved by `offset`, also those of the dishes to either side. Bodies of receivers cast
 * their shadow and stand in the light. Other rows and other blockers do not count.
 * @param step takes only each so-many-eth ray (watts are scaled up)
 */
export function caughtAt(light: Light, offset: Offset, step = 1): number {
  let sum = 0;
  for (const group of light.groups) {
    const frame = group.frameAt(offset);
    sum += throughAperture(group, frame, 1, step, new Bodies(group, frame)).watts;
    for (const { there, share } of strayFrames(group, frame, step)) {
      sum += share * throughAperture(group, there, 1, step, new Bodies(group, there)).watts;
    }
  }
  return step * sum;
}

/** Parts that light is dealt out to, ray by ray, for the error of a share; odd, so that no part falls in with a lattice. */
const DEALT = 15;

/** What each part of the light brings through all apertures, watts; see `caughtAt`. */
function caughtInParts(light: Light, offset: Offset): Float64Array {
  const parts = new Float64Array(DEALT);
  for (const group of light.groups) {
    const frame = group.frameAt(offset);
    const frames = [{ there: frame, share: 1 }, ...strayFrames(group, frame, 1)];
    for (const { there, share } of frames) {
      const bodies = new Bodies(group, there);
      for (let part = 0; part < DEALT; part++) {
        const rays = group.rays.subarray(part * LEAVING_REALS);
        parts[part] += share * throughAperture({ ...group, rays }, there, 1, DEALT, bodies).watts;
      }
    }
  }
  return parts;
}

/**
 * Light caught at one place over that at another. Both catch the same rays but for few, which is what decides the error: the parts'
 * departures from the ratio of the sums (linearised ratio estimator: Cochran, Sampling Techniques, 3rd ed. 1977, eq. 6.13).
 * @returns null where nothing is caught at the other
 */
export function shareOfPlace(light: Light, place: Offset, other: Offset): Figure | null {
  const here = caughtInParts(light, place);
  const there = caughtInParts(light, other);
  const all = there.reduce((sum, watts) => sum + watts, 0);
  if (!(all > 0)) return null;
  const value = here.reduce((sum, watts) => sum + watts, 0) / all;
  const squares = here.reduce((sum, watts, part) => sum + (watts - value * there[part]) ** 2, 0);
  const std_err = Math.sqrt((squares * DEALT) / (DEALT - 1)) / all;
  const half = studentT975(DEALT - 1) * std_err;
  return { value, std_err, ci95: [value - half, value + half], unit: '1' };
}

/**
 * A receiver does not come nearer to the mirrors, or go farther from them, than these parts of the distance at which the scene has it:
 * where no spot is as small as the opening, most would be caught right in front of a mirror, where no receiver can stand.
 */
const CLOSEST = 0.5;
const REMOTEST = 2;

function canStand({ beam }: Light, offset: Offset): boolean {
  const away = norm(subtract(offset, beam.from)) / beam.distance;
  return away >= CLOSEST && away <= REMOTEST;
}

/** So much farther than that, in parts of the same distance, nothing at all is felt; the fall begins level, so that climbs can follow it. */
const FADE = 0.05;

/** 1 where a receiver can stand, falling to 0 beyond. */
function roomAt({ beam }: Light, offset: Offset): number {
  const away = norm(subtract(offset, beam.from)) / beam.distance;
  const beyond = Math.max(0, CLOSEST - away, away - REMOTEST) / FADE;
  return Math.max(0, 1 - beyond * beyond);
}

/**
 * What places on a track are judged by: watts through the openings as they are, and a trifle for light well inside; -1 where no
 * receiver can stand.
 * @param step only each so-many-eth ray is looked at (watts are scaled up)
 */
export function worth(light: Light, offset: Offset, step: number): number {
  if (!canStand(light, offset)) return -1;
  let sum = 0;
  for (const group of light.groups) {
    const frame = group.frameAt(offset);
    const { watts, inner } = throughAperture(group, frame, 1, step, new Bodies(group, frame));
    sum += watts + INNER_WEIGHT * inner;
  }
  return step * sum;
}

/**
 * Width of a soft edge to either side of the opening's own, in parts of half the opening, where so many rays are looked at. Where the
 * best place of a hard edge is looked for, it is the few rays that just pass or miss it which decide, and the place found jumps with
 * them; a soft edge lets many more have a say. The more rays, the less of it is wanted: by the third root of their number, a little
 * faster than the fifth root of a smoothed density (Silverman, Density Estimation, 1986, section 3.4), as its width matters little.
 */
const SOFT = 0.2;
const RAYS_OF_SOFT = 2048;

function softness(light: Light, step: number): number {
  const rays = light.groups.reduce((sum, group) => sum + group.rays.length / (LEAVING_REALS * step), 0);
  return SOFT * Math.cbrt(Math.min(1, RAYS_OF_SOFT / rays));
}

/** How light is felt by a receiver with a soft edge: watts, and what they gain as the receiver moves. */
export interface Felt {
  value: number;
  /** Watts per metre moved along its own u, v and w. */
  readonly force: [number, number, number];
  /** Watts per radian turned about its own u, v and w. */
  readonly torque: [number, number, number];
}

/**
 * Share counted at a distance from the middle, in half openings, squared; in `edge[1]` what it gains with that square.
 * @param soft width of the edge to either side
 */
function softEdge(squared: number, soft: number, edge: Float64Array): void {
  const nothingBeyond = (1 + soft) ** 2;
  if (squared >= nothingBeyond) {
    edge[0] = 0;
    edge[1] = 0;
    return;
  }
  edge[0] = 1 + INNER_WEIGHT * (1 - squared / nothingBeyond);
  edge[1] = -INNER_WEIGHT / nothingBeyond;
  if (squared <= (1 - soft) ** 2) return;
  const distance = Math.sqrt(squared);
  const part = (1 + soft - distance) / (2 * soft);
  edge[0] += part * part * (3 - 2 * part) - 1;
  edge[1] -= (6 * part * (1 - part)) / (4 * soft * distance);
}

/** Adds what the light of a group is felt as, by each so-many-eth ray, to `felt`. */
function feel(
  group: LightGroup,
  frame: Frame,
  step: number,
  soft: number,
  bodies: Bodies | null,
  felt: Felt,
): void {
  if (group.design.aperture.shape === 'round') feelRound(group, frame, step, soft, bodies, felt);
  else feelSides(group, frame, step, soft, bodies, felt);
}

/** Round openings: written out, as most searches spend most of their time here. */
function feelRound(
  { design, rays }: LightGroup,
  frame: Frame,
  step: number,
  soft: number,
  bodies: Bodies | null,
  felt: Felt,
): void {
  const { aperture } = design;
  if (aperture.shape !== 'round') throw new RangeError('the opening is not round');
  const [ox, oy, oz] = frame.origin;
  const [xx, xy, xz] = frame.x;
  const [yx, yy, yz] = frame.y;
  const [zx, zy, zz] = frame.z;
  const perSquare = 4 / aperture.diameter ** 2;
  const fullWithin = (1 - soft) ** 2;
  const nothingBeyond = (1 + soft) ** 2;
  const innerSlope = -INNER_WEIGHT / nothingBeyond;
  let value = 0;
  let fu = 0;
  let fv = 0;
  let fw = 0;
  let tu = 0;
  let tv = 0;
  const stride = LEAVING_REALS * step;
  for (let r = 0; r < rays.length; r += stride) {
    const dx = rays[r + 3];
    const dy = rays[r + 4];
    const dz = rays[r + 5];
    const dw = dx * zx + dy * zy + dz * zz;
    const px = rays[r] - ox;
    const py = rays[r + 1] - oy;
    const pz = rays[r + 2] - oz;
    const w = px * zx + py * zy + pz * zz;
    if (!(dw < 0 && w > 0)) continue;
    const perW = 1 / dw;
    const t = -w * perW;
    const hx = px + t * dx;
    const hy = py + t * dy;
    const hz = pz + t * dz;
    // On the plane, so that its distance from the middle needs no axes.
    const squared = (hx * hx + hy * hy + hz * hz) * perSquare;
    if (squared >= nothingBeyond) continue;
    let power = rays[r + 6];
    if (bodies !== null) {
      const u0 = px * xx + py * xy + pz * xz;
      const v0 = px * yx + py * yy + pz * yz;
      const du = dx * xx + dy * xy + dz * xz;
      power *= bodies.kept(u0, v0, w, du, dx * yx + dy * yy + dz * yz, dw, t);
    }
    let share = 1 + INNER_WEIGHT + squared * innerSlope;
    let slope = innerSlope;
    if (squared > fullWithin) {
      const distance = Math.sqrt(squared);
      const part = (1 + soft - distance) / (2 * soft);
      share += part * part * (3 - 2 * part) - 1;
      slope -= (6 * part * (1 - part)) / (4 * soft * distance);
    }
    value += power * share;
    const pull = 2 * power * slope * perSquare;
    const u = hx * xx + hy * xy + hz * xz;
    const v = hx * yx + hy * yy + hz * yz;
    // Where the plane lies higher or leans, the light meets it farther along its way.
    const along = pull * (hx * dx + hy * dy + hz * dz) * perW;
    fu -= pull * u;
    fv -= pull * v;
    fw += along;
    tu += along * v;
    tv -= along * u;
  }
  felt.value += step * value;
  felt.force[0] += step * fu;
  felt.force[1] += step * fv;
  felt.force[2] += step * fw;
  felt.torque[0] += step * tu;
  felt.torque[1] += step * tv;
}

/** Openings with straight sides, and tubes. */
function feelSides(
  { design, rays }: LightGroup,
  frame: Frame,
  step: number,
  soft: number,
  bodies: Bodies | null,
  felt: Felt,
): void {
  const { aperture } = design;
  if (aperture.shape === 'round') throw new RangeError('the opening is round');
  const [ox, oy, oz] = frame.origin;
  const [xx, xy, xz] = frame.x;
  const [yx, yy, yz] = frame.y;
  const [zx, zy, zz] = frame.z;
  const tube = aperture.shape === 'tube';
  const perU = 2 / (tube ? aperture.length : aperture.width);
  const perV = 2 / (tube ? aperture.diameter : aperture.height);
  const edge = new Float64Array(2);
  const across = new Float64Array(2);
  let value = 0;
  let fu = 0;
  let fv = 0;
  let fw = 0;
  let tu = 0;
  let tv = 0;
  let tw = 0;
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
    const du = dx * xx + dy * xy + dz * xz;
    const u0 = px * xx + py * xy + pz * xz;
    let power = rays[r + 6];
    if (tube) {
      // The nearest approach to the axis, in the plane across it; a tube does not turn as it moves.
      const squared = dv * dv + dw * dw;
      const t = -(v0 * dv + w * dw) / squared;
      if (!(t > 0)) continue;
      const length = Math.sqrt(squared);
      const a = (u0 + t * du) * perU;
      const b = ((v0 * dw - w * dv) / length) * perV;
      softEdge(a * a, soft, edge);
      softEdge(b * b, soft, across);
      if (edge[0] === 0 || across[0] === 0) continue;
      if (bodies !== null) power *= bodies.kept(u0, v0, w, du, dv, dw, t);
      value += power * edge[0] * across[0];
      const alongU = 2 * power * edge[1] * across[0] * a * perU;
      const alongV = (2 * power * edge[0] * across[1] * b * perV) / length;
      fu -= alongU;
      fv += (alongU * du * dv) / squared - alongV * dw;
      fw += (alongU * du * dw) / squared + alongV * dv;
      continue;
    }
    if (!(dw < 0 && w > 0)) continue;
    const t = -w / dw;
    const u = u0 + t * du;
    const v = v0 + t * dv;
    const a = u * perU;
    const b = v * perV;
    softEdge(a * a, soft, edge);
    softEdge(b * b, soft, across);
    if (edge[0] === 0 || across[0] === 0) continue;
    if (bodies !== null) power *= bodies.kept(u0, v0, w, du, dv, dw, t);
    value += power * edge[0] * across[0];
    const alongU = 2 * power * edge[1] * across[0] * a * perU;
    const alongV = 2 * power * edge[0] * across[1] * b * perV;
    const along = (alongU * du + alongV * dv) / dw;
    fu -= alongU;
    fv -= alongV;
    fw += along;
    tu += along * v;
    tv -= along * u;
    tw += alongU * v - alongV * u;
  }
  felt.value += step * value;
  felt.force[0] += step * fu;
  felt.force[1] += step * fv;
  felt.force[2] += step * fw;
  felt.torque[0] += step * tu;
  felt.torque[1] += step * tv;
  felt.torque[2] += step * tw;
}

/** Far enough for the turn of a frame to be read from it, and near enough for it to be straight, metres. */
const TURN_STEP = 1e-4;

/**
 * What searches climb: watts through openings with soft edges, and a trifle for light well inside, so that of places which catch all
 * light the one with most room around it is taken.
 * @param directions unit vectors in which the receivers may be moved
 * @param step only each so-many-eth ray is looked at (watts are scaled up)
 * @returns value, and slope along each direction, W/m; nothing where no receiver can stand
 */
export function feltAt(
  light: Light,
  offset: Offset,
  directions: readonly Vec3[],
  step: number,
): { value: number; slope: readonly number[] } {
  const slope = directions.map(() => 0);
  const soft = softness(light, step);
  let value = 0;
  for (const group of light.groups) {
    const felt: Felt = { value: 0, force: [0, 0, 0], torque: [0, 0, 0] };
    const frame = group.frameAt(offset);
    feel(group, frame, step, soft, null, felt);
    value += felt.value;
    for (const [k, direction] of directions.entries()) {
      const moved = group.frameAt(addScaled(offset, direction, TURN_STEP));
      const way = subtract(moved.origin, frame.origin);
      slope[k] +=
        (dot(felt.force, [dot(way, frame.x), dot(way, frame.y), dot(way, frame.z)]) +
          dot(felt.torque, [dot(moved.y, frame.z), dot(moved.z, frame.x), dot(moved.x, frame.y)])) /
        TURN_STEP;
    }
  }
  const room = roomAt(light, offset);
  return {
    value: value * room,
    slope: directions.map((direction, k) => {
      const there = roomAt(light, addScaled(offset, direction, TURN_STEP));
      return slope[k] * room + (value * (there - room)) / TURN_STEP;
    }),
  };
}

/**
 * The same without slopes, and with what bodies of receivers shade and stop: where a low sun throws a receiver's shadow on the mirrors of
 * its row, the best place is not where the light is densest.
 * @param neighbours also with what strays in from the dishes to either side
 */
export function feltBesideBodies(light: Light, offset: Offset, step: number, neighbours: boolean): number {
  const soft = softness(light, step);
  let sum = 0;
  for (const group of light.groups) {
    const frame = group.frameAt(offset);
    const strays = neighbours ? strayFrames(group, frame, step) : [];
    for (const { there, share } of [{ there: frame, share: 1 }, ...strays]) {
      const felt: Felt = { value: 0, force: [0, 0, 0], torque: [0, 0, 0] };
      feel(group, there, step, soft, new Bodies(group, there), felt);
      sum += share * felt.value;
    }
  }
  return sum * roomAt(light, offset);
}
