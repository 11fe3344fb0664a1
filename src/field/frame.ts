/** Right-handed orthonormal frames and the way between them. */
import type { Vec3 } from '../scene/types.js';
import type { Frame } from './types.js';
import { add, cross, dot, norm, normalise, rejectFrom, subtract } from './vector.js';

export const UP: Vec3 = [0, 0, 1];

/** Directions closer to parallel than this (sine of the angle) cannot fix a frame. */
const SMALLEST_SINE = 1e-9;

/** Vector given in the frame's axes -> the parent's axes. */
export function directionToParent(frame: Frame, local: Vec3): Vec3 {
  // Written out: fields of thousands of mirrors spend most of their laying out here.
  const { x, y, z } = frame;
  const [a, b, c] = local;
  return [x[0] * a + y[0] * b + z[0] * c, x[1] * a + y[1] * b + z[1] * c, x[2] * a + y[2] * b + z[2] * c];
}

/** Vector given in the parent's axes -> the frame's axes. */
export function directionToLocal(frame: Frame, vector: Vec3): Vec3 {
  return [dot(vector, frame.x), dot(vector, frame.y), dot(vector, frame.z)];
}

/** Point given in the frame -> the parent frame. */
export function pointToParent(frame: Frame, local: Vec3): Vec3 {
  return add(directionToParent(frame, local), frame.origin);
}

/** Point given in the parent frame -> the frame. */
export function pointToLocal(frame: Frame, point: Vec3): Vec3 {
  return directionToLocal(frame, subtract(point, frame.origin));
}

/** A frame given inside `outer`, expressed in the parent of `outer`. */
export function frameToParent(outer: Frame, inner: Frame): Frame {
  return {
    origin: pointToParent(outer, inner.origin),
    x: directionToParent(outer, inner.x),
    y: directionToParent(outer, inner.y),
    z: directionToParent(outer, inner.z),
  };
}

/**
 * Frame of a given z axis, with x as near to `along` as it can be.
 * @param z any length but 0
 * @returns null where `along` is parallel to z, which leaves x undecided
 */
export function frameFromZ(origin: Vec3, z: Vec3, along: Vec3): Frame | null {
  const unitZ = normalise(z);
  const x = rejectFrom(along, unitZ);
  if (!(norm(x) > SMALLEST_SINE * norm(along))) {
    return null;
  }
  // A second pass takes off what rounding left of z in x where the two were almost parallel.
  const unitX = normalise(rejectFrom(normalise(x), unitZ));
  return { origin, x: unitX, y: cross(unitZ, unitX), z: unitZ };
}

/**
 * Frame of a given x axis, with z as near to `towards` as it can be.
 * @returns null where `towards` is parallel to x, which leaves z undecided
 */
export function frameFromX(origin: Vec3, x: Vec3, towards: Vec3): Frame | null {
  const unitX = normalise(x);
  const z = rejectFrom(towards, unitX);
  if (!(norm(z) > SMALLEST_SINE * norm(towards))) {
    return null;
  }
  const unitZ = normalise(rejectFrom(normalise(z), unitX));
  return { origin, x: unitX, y: cross(unitZ, unitX), z: unitZ };
}

/** Level frame whose x axis points along an azimuth; z is up and y lies to the left. */
export function levelFrame(origin: Vec3, azimuth: number): Frame {
  const sine = Math.sin(azimuth);
  const cosine = Math.cos(azimuth);
  return { origin, x: [sine, cosine, 0], y: [-cosine, sine, 0], z: UP };
}

/** The frame turned about its own x axis: z leans from where it was towards -y by `angle`. The origin stays. */
export function turnAboutX(frame: Frame, angle: number): Frame {
  const sine = Math.sin(angle);
  const cosine = Math.cos(angle);
  const turn = (main: Vec3, other: Vec3, part: number): Vec3 => [
    cosine * main[0] + part * other[0],
    cosine * main[1] + part * other[1],
    cosine * main[2] + part * other[2],
  ];
  return {
    origin: frame.origin,
    x: frame.x,
    y: turn(frame.y, frame.z, sine),
    z: turn(frame.z, frame.y, -sine),
  };
}
