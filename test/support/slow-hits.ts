/**
 * Where a ray meets a mirror or a solid, found the slow way: the gap between ray and body is sampled densely and its
 * changes of sign are halved down. Formulas of its own; shares no line with the kernel.
 */
import type { Frame, PlacedFacet } from '../../src/field/types.js';
import type { FacetShape, Outline, Vec3 } from '../../src/scene/types.js';

const SAMPLES = 600;

function plus(point: Vec3, direction: Vec3, t: number): Vec3 {
  return [point[0] + t * direction[0], point[1] + t * direction[1], point[2] + t * direction[2]];
}

function intoFrame(frame: Frame, v: Vec3): Vec3 {
  const along = (axis: Vec3) => axis[0] * v[0] + axis[1] * v[1] + axis[2] * v[2];
  return [along(frame.x), along(frame.y), along(frame.z)];
}

/** Place and direction in the frame. */
export function localRay(frame: Frame, origin: Vec3, direction: Vec3): { o: Vec3; d: Vec3 } {
  return { o: intoFrame(frame, plus(origin, frame.origin, -1)), d: intoFrame(frame, direction) };
}

/** Textbook heights, straight from the definitions. */
export function heightByDefinition(shape: FacetShape, x: number, y: number): number {
  switch (shape.kind) {
    case 'flat':
      return 0;
    case 'bent': {
      const radius = 2 * shape.focalLength;
      return shape.curve === 'parabola' ? (x * x) / (2 * radius) : radius - Math.sqrt(radius ** 2 - x ** 2);
    }
    case 'paraboloid':
      return (x * x + y * y) / (4 * shape.focalLength);
    case 'toroid': {
      // The circle in the x-z plane, turned about the line at height radiusAcross.
      const onCircle = shape.radiusAlong - Math.sqrt(shape.radiusAlong ** 2 - x ** 2);
      return shape.radiusAcross - Math.sqrt((shape.radiusAcross - onCircle) ** 2 - y ** 2);
    }
  }
}

export function insideByDefinition(outline: Outline, x: number, y: number): boolean {
  if (outline.kind === 'rectangle') {
    const [cx, cy] = outline.centre;
    return (
      x >= cx - outline.length / 2 &&
      x <= cx + outline.length / 2 &&
      y >= cy - outline.width / 2 &&
      y <= cy + outline.width / 2
    );
  }
  const radius = Math.hypot(x, y);
  return radius <= outline.diameter / 2 && radius >= outline.holeDiameter / 2;
}

/** Smallest radius about the facet's origin that holds the patch. */
function reach(facet: PlacedFacet): number {
  const { outline, shape } = facet;
  const [x, y] =
    outline.kind === 'rectangle'
      ? [Math.abs(outline.centre[0]) + outline.length / 2, Math.abs(outline.centre[1]) + outline.width / 2]
      : [outline.diameter / 2, outline.diameter / 2];
  const corner = heightByDefinition(shape, x, y);
  const heights = [heightByDefinition(shape, x, 0), heightByDefinition(shape, 0, y), corner];
  return Math.hypot(x, y, Math.max(...heights.filter(Number.isFinite)));
}

/** Roots of `gap` in rising order on [from, to]; extrema that nearly touch zero are looked at closely. */
function roots(gap: (t: number) => number, from: number, to: number): number[] {
  const step = (to - from) / SAMPLES;
  const found: number[] = [];
  const halve = (a: number, b: number) => {
    let low = a;
    let high = b;
    const rising = gap(b) > 0;
    for (let k = 0; k < 90; k++) {
      const middle = (low + high) / 2;
      if (gap(middle) > 0 === rising) high = middle;
      else low = middle;
    }
    found.push((low + high) / 2);
  };
  const look = (a: number, b: number) => {
    const [ga, gb] = [gap(a), gap(b)];
    if (Number.isFinite(ga) && Number.isFinite(gb) && ga > 0 !== gb > 0) halve(a, b);
  };
  for (let k = 0; k < SAMPLES; k++) {
    const a = from + k * step;
    const b = a + step;
    look(a, b);
    const [left, mid, right] = [gap(a), gap(b), gap(b + step)];
    // A turning point towards zero inside (a, b + step).
    const sign = mid > 0 ? -1 : 1;
    if (mid * sign > left * sign && mid * sign > right * sign) {
      let low = a;
      let high = b + step;
      for (let n = 0; n < 100; n++) {
        const third = (high - low) / 3;
        if (gap(low + third) * sign < gap(high - third) * sign) low += third;
        else high -= third;
      }
      const top = (low + high) / 2;
      if (gap(top) > 0 !== mid > 0) {
        const edges = [a, top, b + step];
        for (let e = 0; e < 2; e++) {
          const [p, q] = [edges[e], edges[e + 1]];
          // The piece between b and its neighbour is looked at again by the plain scan, which sees no change of sign.
          if (gap(p) > 0 !== gap(q) > 0) halve(p, q);
        }
      }
    }
  }
  return found.sort((p, q) => p - q);
}

/** Nearest t > `start` at which the ray meets the facet, or null. */
export function slowFacetHit(
  facet: PlacedFacet,
  origin: Vec3,
  direction: Vec3,
  start: number,
): number | null {
  const { o, d } = localRay(facet.frame, origin, direction);
  const length = Math.hypot(...d);
  const middle = -(o[0] * d[0] + o[1] * d[1] + o[2] * d[2]) / length ** 2;
  const half = (1.01 * reach(facet)) / length;
  // Measured from the point nearest to the facet, so that rays from far off lose no digits.
  const near = plus(o, d, middle);
  const gap = (t: number) => {
    const [x, y, z] = plus(near, d, t);
    return z - heightByDefinition(facet.shape, x, y);
  };
  const hits = roots(gap, Math.max(-half, start - middle), half).filter((t) => {
    const [x, y] = plus(near, d, t);
    return t + middle > start && insideByDefinition(facet.outline, x, y);
  });
  return hits.length > 0 ? hits[0] + middle : null;
}

/** Largest part is the face a point is nearest to leave by: below 0 inside. */
export type Solid = (p: Vec3) => number[];

/** Parts: the curved side, then the low end, then the high end. */
export function cylinderSolid(axis: 0 | 2, radius: number, half: number): Solid {
  return (p) => {
    const around = axis === 0 ? Math.hypot(p[1], p[2]) : Math.hypot(p[0], p[1]);
    return [around - radius, -p[axis] - half, p[axis] - half];
  };
}

/** Parts: low and high face along x, y, z. */
export function boxSolid(half: Vec3): Solid {
  return (p) => [0, 1, 2].flatMap((axis) => [-p[axis] - half[axis], p[axis] - half[axis]]);
}

/** Nearest t > `start` at which the ray passes the skin of a solid, and the part it passes there. */
export function slowSolidHit(
  solid: Solid,
  size: number,
  frame: Frame,
  origin: Vec3,
  direction: Vec3,
  start: number,
): { t: number; part: number; entering: boolean; at: Vec3 } | null {
  const { o, d } = localRay(frame, origin, direction);
  const length = Math.hypot(...d);
  const middle = -(o[0] * d[0] + o[1] * d[1] + o[2] * d[2]) / length ** 2;
  const near = plus(o, d, middle);
  const half = size / length;
  const gap = (t: number) => Math.max(...solid(plus(near, d, t)));
  const [t] = roots(gap, Math.max(-half, start - middle), half).filter((root) => root + middle > start);
  if (t === undefined) return null;
  const at = plus(near, d, t);
  const parts = solid(at);
  return { t: t + middle, part: parts.indexOf(Math.max(...parts)), entering: gap(t + 1e-7) < 0, at };
}
