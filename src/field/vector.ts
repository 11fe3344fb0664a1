/**
 * Small vectors for geometry at rest. Every function returns a new vector of ordinary numbers; gl-matrix writes into what it
 * is given, so its own single-precision arrays never come in.
 */
import { vec3 } from 'gl-matrix';
import type { Angles, Vec3 } from '../scene/types.js';

function written(write: (out: [number, number, number]) => void): Vec3 {
  const out: [number, number, number] = [0, 0, 0];
  write(out);
  return out;
}

export function add(a: Vec3, b: Vec3): Vec3 {
  return written((out) => vec3.add(out, a, b));
}

export function subtract(a: Vec3, b: Vec3): Vec3 {
  return written((out) => vec3.subtract(out, a, b));
}

export function scale(a: Vec3, factor: number): Vec3 {
  return written((out) => vec3.scale(out, a, factor));
}

/** a + factor x b. */
export function addScaled(a: Vec3, b: Vec3, factor: number): Vec3 {
  return written((out) => vec3.scaleAndAdd(out, a, b, factor));
}

export function dot(a: Vec3, b: Vec3): number {
  return vec3.dot(a, b);
}

export function cross(a: Vec3, b: Vec3): Vec3 {
  return written((out) => vec3.cross(out, a, b));
}

export function norm(a: Vec3): number {
  return vec3.length(a);
}

/** Unit vector along `a`; not a number where `a` is zero (callers check first where that can happen). */
export function normalise(a: Vec3): Vec3 {
  return scale(a, 1 / norm(a));
}

/** The part of `a` that is perpendicular to the unit vector `unit`. */
export function rejectFrom(a: Vec3, unit: Vec3): Vec3 {
  return addScaled(a, unit, -dot(a, unit));
}

/** Angle between two directions of any length, 0 to pi, radians; accurate near 0 and pi too. */
export function angleBetween(a: Vec3, b: Vec3): number {
  return Math.atan2(norm(cross(a, b)), dot(a, b));
}

/** Unit vector of an azimuth (from north, clockwise) and elevation, world frame. */
export function directionOf(angles: Angles): Vec3 {
  const level = Math.cos(angles.elevation);
  return [Math.sin(angles.azimuth) * level, Math.cos(angles.azimuth) * level, Math.sin(angles.elevation)];
}

/**
 * Azimuth (from north, clockwise, 0 <= azimuth < 2 pi) and elevation of a direction of any length, radians.
 * The azimuth of a direction straight up or down is given as 0.
 */
export function anglesOf(direction: Vec3): Angles {
  const level = Math.hypot(direction[0], direction[1]);
  const elevation = Math.atan2(direction[2], level);
  // What rounding leaves of a zero must not turn into an azimuth, nor north into a full turn.
  const smallest = 1e-12 * norm(direction);
  if (level <= smallest || (Math.abs(direction[0]) <= smallest && direction[1] > 0)) {
    return { azimuth: 0, elevation };
  }
  const azimuth = Math.atan2(direction[0], direction[1]);
  return { azimuth: azimuth < 0 ? azimuth + 2 * Math.PI : azimuth, elevation };
}

/** Direction of a ray that arrives against `towardsSource` on a mirror of unit normal `normal`, after the mirror. */
export function reflect(towardsSource: Vec3, normal: Vec3): Vec3 {
  return addScaled(scale(towardsSource, -1), normal, 2 * dot(towardsSource, normal));
}
