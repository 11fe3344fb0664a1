/** The circle through three places. */
import { add, addScaled, cross, dot, norm, scale, subtract } from '../field/vector.js';
import type { Vec3 } from '../scene/types.js';

export interface Circle {
  readonly centre: Vec3;
  readonly radius: number;
  /** Unit, at right angles to the circle's plane; its y part is not below 0. */
  readonly normal: Vec3;
}

/** Places nearer to a line than this part of their distance are in line: their circle would be rounding. */
const IN_LINE = 1e-6;

/**
 * Centre, radius and plane of the circle through three places (circumcentre of a triangle, textbook geometry, from memory).
 * @returns null where they lie in line
 */
export function circleThrough(a: Vec3, b: Vec3, c: Vec3): Circle | null {
  const [p, q] = [subtract(b, a), subtract(c, a)];
  const n = cross(p, q);
  const square = dot(n, n);
  if (!(square > (IN_LINE * norm(p) * norm(q)) ** 2)) return null;
  const way = scale(
    add(scale(cross(q, n), dot(p, p)), addScaled([0, 0, 0], cross(n, p), dot(q, q))),
    1 / (2 * square),
  );
  const side = n[1] < 0 ? -1 : 1;
  return { centre: add(a, way), radius: norm(way), normal: scale(n, side / Math.sqrt(square)) };
}
