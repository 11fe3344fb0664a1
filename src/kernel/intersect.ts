/**
 * Where a ray meets one primitive. A ray and what it finds live in a caller-owned scratch (`Float64Array`s and
 * `Int32Array`s): passing doubles between functions would allocate.
 */

import { facetToReceiver, SUN_REALS, sunInFacet, TO_RECEIVER_REALS } from './frames.js';
import type { PreparedView } from './layout.js';
import * as layout from './layout.js';
import * as rayLayout from './ray.js';

// Imported bindings are read anew at every use; constants of the module itself are compiled into the loop.
const {
  B_HALF_X,
  B_HALF_Z,
  BI_KIND,
  BLOCKER_INTS,
  BLOCKER_REALS,
  BlockerKind,
  F_CENTRE_X,
  F_CENTRE_Y,
  F_CURVE_A,
  F_CURVE_B,
  F_HALF_X,
  F_HALF_Y,
  F_Z_HIGH,
  F_Z_LOW,
  FACET_INTS,
  FACET_REALS,
  FacetKind,
  FI_KIND,
  FI_OUTLINE,
  FRAME_ORIGIN,
  FRAME_X,
  FRAME_Y,
  FRAME_Z,
  OutlineKind,
  R_HALF_U,
  R_HALF_V,
  R_HALF_WINDOW_U,
  R_HALF_WINDOW_V,
  R_INVERSE_U,
  R_INVERSE_V,
  RECEIVER_INTS,
  RECEIVER_REALS,
  ReceiverKind,
  RI_KIND,
} = layout;
const {
  RAY_A,
  RAY_B,
  RAY_C,
  RAY_D,
  RAY_LD,
  RAY_LO,
  RAY_LOW,
  RAY_O,
  RAY_REALS,
  RAY_START,
  RAY_T,
  RAY_U,
  RAY_V,
} = rayLayout;

/**
 * What one thread needs to follow rays through a scene.
 *
 * A class, as are all objects the loops read: the second time an object literal is met, the runtime changes what it takes the fields
 * of such objects to be, throws away the code compiled on that, and may go on for good without the whole of it.
 */
export class Scratch {
  readonly ray = new Float64Array(RAY_REALS);
  readonly stack = new Int32Array(128);
  /** Gradient of the surface last asked for. */
  readonly slope = new Float64Array(2);
  /** Of the facet the rays start on: see `facetToReceiver` and `sunInFacet`. */
  readonly toReceiver = new Float64Array(TO_RECEIVER_REALS);
  readonly sun = new Float64Array(SUN_REALS);
  /** Windows crossed from the front beside the aperture: how many, then receiver, distance, u, v of each. */
  crossings = 0;
  declare readonly crossed: Int32Array;
  declare readonly crossingT: Float64Array;
  declare readonly crossingU: Float64Array;
  declare readonly crossingV: Float64Array;
  /** Hit 1 on the front of the primitive, 0 on its back or side. */
  front = 0;

  constructor(view: PreparedView) {
    this.crossed = new Int32Array(view.receivers);
    this.crossingT = new Float64Array(view.receivers);
    this.crossingU = new Float64Array(view.receivers);
    this.crossingV = new Float64Array(view.receivers);
  }

  /** Rays start on this facet from now on. */
  startOn(view: PreparedView, facet: number): void {
    facetToReceiver(view, facet, this.toReceiver);
    sunInFacet(view, facet, this.sun);
  }
}

/** Writes the ray into the frame that starts at `base` of `reals`. */
export function toFrame(reals: Float64Array, base: number, ray: Float64Array): void {
  const px = ray[RAY_O] - reals[base + FRAME_ORIGIN];
  const py = ray[RAY_O + 1] - reals[base + FRAME_ORIGIN + 1];
  const pz = ray[RAY_O + 2] - reals[base + FRAME_ORIGIN + 2];
  const dx = ray[RAY_D];
  const dy = ray[RAY_D + 1];
  const dz = ray[RAY_D + 2];
  const xx = reals[base + FRAME_X];
  const xy = reals[base + FRAME_X + 1];
  const xz = reals[base + FRAME_X + 2];
  const yx = reals[base + FRAME_Y];
  const yy = reals[base + FRAME_Y + 1];
  const yz = reals[base + FRAME_Y + 2];
  const zx = reals[base + FRAME_Z];
  const zy = reals[base + FRAME_Z + 1];
  const zz = reals[base + FRAME_Z + 2];
  ray[RAY_LO] = px * xx + py * xy + pz * xz;
  ray[RAY_LO + 1] = px * yx + py * yy + pz * yz;
  ray[RAY_LO + 2] = px * zx + py * zy + pz * zz;
  ray[RAY_LD] = dx * xx + dy * xy + dz * xz;
  ray[RAY_LD + 1] = dx * yx + dy * yy + dz * yz;
  ray[RAY_LD + 2] = dx * zx + dy * zy + dz * zz;
}

function insideOutline(view: PreparedView, facet: number, x: number, y: number): boolean {
  const reals = view.facetReals;
  const base = facet * FACET_REALS;
  if (view.facetInts[facet * FACET_INTS + FI_OUTLINE] === OutlineKind.Rectangle) {
    return (
      Math.abs(x - reals[base + F_CENTRE_X]) <= reals[base + F_HALF_X] &&
      Math.abs(y - reals[base + F_CENTRE_Y]) <= reals[base + F_HALF_Y]
    );
  }
  const rr = x * x + y * y;
  const outer = reals[base + F_HALF_X];
  const hole = reals[base + F_HALF_Y];
  return rr <= outer * outer && rr >= hole * hole;
}

/** Takes the hit at distance t if it is the nearest so far and inside the outline. */
function accept(view: PreparedView, ray: Float64Array, facet: number, t: number): boolean {
  if (!(t > RAY_START && t < ray[RAY_T])) return false;
  const x = ray[RAY_LO] + t * ray[RAY_LD];
  const y = ray[RAY_LO + 1] + t * ray[RAY_LD + 1];
  if (!insideOutline(view, facet, x, y)) return false;
  ray[RAY_T] = t;
  return true;
}

/**
 * Roots of (a t + 2 b) t + c = 0 (from RAY_A, RAY_B, RAY_C) tried in rising order; RAY_LOW > 0 asks that the height at the hit
 * stay below it (the lower half of a circle).
 */
function acceptQuadratic(view: PreparedView, ray: Float64Array, facet: number): boolean {
  const a = ray[RAY_A];
  const b = ray[RAY_B];
  const c = ray[RAY_C];
  const lowHalf = ray[RAY_LOW];
  const discriminant = b * b - a * c;
  if (!(discriminant >= 0)) return false;
  const root = Math.sqrt(discriminant);
  // q carries the larger of the two sums, so neither root is a difference of near-equal numbers.
  const q = b >= 0 ? -(b + root) : root - b;
  const t1 = c / q;
  const t2 = a === 0 ? Number.POSITIVE_INFINITY : q / a;
  const near = t1 < t2 ? t1 : t2;
  const far = t1 < t2 ? t2 : t1;
  if (lowHalf === 0 || ray[RAY_LO + 2] + near * ray[RAY_LD + 2] <= lowHalf) {
    if (accept(view, ray, facet, near)) return true;
  }
  if (lowHalf === 0 || ray[RAY_LO + 2] + far * ray[RAY_LD + 2] <= lowHalf) {
    return accept(view, ray, facet, far);
  }
  return false;
}

/**
 * Toroid: the gap between ray and surface, g(t) = z - h(x, y), is concave along any line because h is convex. So g has at
 * most two roots; Newton's steps from the end of the interval where g < 0 run monotonically to the nearest of them.
 */
function acceptToroid(view: PreparedView, ray: Float64Array, facet: number): boolean {
  const reals = view.facetReals;
  const base = facet * FACET_REALS;
  const round = view.facetInts[facet * FACET_INTS + FI_OUTLINE] === OutlineKind.Round;
  const halfX = reals[base + F_HALF_X];
  const halfY = round ? halfX : reals[base + F_HALF_Y];
  // The patch's box, a little enlarged so that rounding cannot cut off its rim.
  const slack = 1e-9 * (halfX + halfY);
  // RAY_T does not cut the interval: where Newton starts, and so the last digit of the hit, must not hang on what was hit before.
  let t0 = RAY_START;
  let t1 = Number.POSITIVE_INFINITY;
  for (let axis = 0; axis < 3; axis++) {
    const o = ray[RAY_LO + axis];
    const d = ray[RAY_LD + axis];
    const low =
      axis === 0
        ? reals[base + F_CENTRE_X] - halfX
        : axis === 1
          ? reals[base + F_CENTRE_Y] - halfY
          : reals[base + F_Z_LOW];
    const high =
      axis === 0
        ? reals[base + F_CENTRE_X] + halfX
        : axis === 1
          ? reals[base + F_CENTRE_Y] + halfY
          : reals[base + F_Z_HIGH];
    if (d === 0) {
      if (o < low - slack || o > high + slack) return false;
      continue;
    }
    const a = (low - slack - o) / d;
    const b = (high + slack - o) / d;
    t0 = Math.max(t0, Math.min(a, b));
    t1 = Math.min(t1, Math.max(a, b));
  }
  if (round) {
    // The corners of the square round a deep outline can lie where the surface has no height: keep to the outline itself.
    const ox = ray[RAY_LO];
    const oy = ray[RAY_LO + 1];
    const dx = ray[RAY_LD];
    const dy = ray[RAY_LD + 1];
    const square = dx * dx + dy * dy;
    const moment = ox * dy - oy * dx;
    const chord = square * (halfX + slack) ** 2 - moment * moment;
    if (!(chord >= 0)) return false;
    if (square > 0) {
      const middle = -(ox * dx + oy * dy) / square;
      const half = Math.sqrt(chord) / square;
      t0 = Math.max(t0, middle - half);
      t1 = Math.min(t1, middle + half);
    } else if (Math.hypot(ox, oy) > halfX + slack) {
      return false;
    }
  }
  if (!(t0 <= t1 && t0 < ray[RAY_T])) return false;
  const fromNear = toroidRoot(ray, reals[base + F_CURVE_A], reals[base + F_CURVE_B], t0, t1);
  if (fromNear >= 0 && accept(view, ray, facet, fromNear)) return true;
  const fromFar = toroidRoot(ray, reals[base + F_CURVE_A], reals[base + F_CURVE_B], t1, t0);
  return fromFar >= 0 && accept(view, ray, facet, fromFar);
}

/** Newton from `start` towards `end`; -1 where the ray is already above the surface at `start` or never reaches it. */
function toroidRoot(ray: Float64Array, along: number, across: number, start: number, end: number): number {
  const dx = ray[RAY_LD];
  const dy = ray[RAY_LD + 1];
  const dz = ray[RAY_LD + 2];
  const forward = end >= start ? 1 : -1;
  let t = start;
  for (let step = 0; step < 60; step++) {
    const x = ray[RAY_LO] + t * dx;
    const y = ray[RAY_LO + 1] + t * dy;
    const p = Math.sqrt(along * along - x * x);
    const sag = (x * x) / (along + p);
    const q = across - sag;
    const s = Math.sqrt(q * q - y * y);
    const gap = ray[RAY_LO + 2] + t * dz - sag - (y * y) / (q + s);
    if (step === 0 && gap >= 0) return -1;
    const slope = dz - ((q * x) / (p * s)) * dx - (y / s) * dy;
    if (!(slope * forward > 0)) return -1;
    const next = t - gap / slope;
    if (!((next - end) * forward <= 1e-9)) return -1;
    if (Math.abs(next - t) <= 1e-14 * (1 + Math.abs(next))) return next;
    t = next;
  }
  return t;
}

/** Nearest meeting with one facet before RAY_T; on a hit RAY_T is lowered and RAY_LO/RAY_LD hold the ray in its frame. */
export function hitFacet(view: PreparedView, scratch: Scratch, facet: number): boolean {
  const reals = view.facetReals;
  const ray = scratch.ray;
  const base = facet * FACET_REALS;
  // Most rays that come here pass above or below the facet: seen from the heights alone.
  const zx = reals[base + FRAME_Z];
  const zy = reals[base + FRAME_Z + 1];
  const zz = reals[base + FRAME_Z + 2];
  const height =
    (ray[RAY_O] - reals[base + FRAME_ORIGIN]) * zx +
    (ray[RAY_O + 1] - reals[base + FRAME_ORIGIN + 1]) * zy +
    (ray[RAY_O + 2] - reals[base + FRAME_ORIGIN + 2]) * zz;
  const climb = ray[RAY_D] * zx + ray[RAY_D + 1] * zy + ray[RAY_D + 2] * zz;
  if (climb >= 0 ? height > reals[base + F_Z_HIGH] : height < reals[base + F_Z_LOW]) return false;
  toFrame(reals, base, ray);
  const ox = ray[RAY_LO];
  const oy = ray[RAY_LO + 1];
  const oz = ray[RAY_LO + 2];
  const dx = ray[RAY_LD];
  const dy = ray[RAY_LD + 1];
  const dz = ray[RAY_LD + 2];
  const curve = reals[base + F_CURVE_A];
  ray[RAY_LOW] = 0;
  switch (view.facetInts[facet * FACET_INTS + FI_KIND]) {
    case FacetKind.Flat:
      return accept(view, ray, facet, -oz / dz);
    case FacetKind.BentParabola:
      ray[RAY_A] = curve * dx * dx;
      ray[RAY_B] = curve * ox * dx - 0.5 * dz;
      ray[RAY_C] = curve * ox * ox - oz;
      return acceptQuadratic(view, ray, facet);
    case FacetKind.BentCircle:
      // The circle through the vertex with centre at height R, written about the vertex: x^2 + z^2 - 2 R z = 0.
      ray[RAY_A] = dx * dx + dz * dz;
      ray[RAY_B] = ox * dx + oz * dz - curve * dz;
      ray[RAY_C] = ox * ox + oz * oz - 2 * curve * oz;
      ray[RAY_LOW] = curve;
      return acceptQuadratic(view, ray, facet);
    case FacetKind.Paraboloid:
      ray[RAY_A] = curve * (dx * dx + dy * dy);
      ray[RAY_B] = curve * (ox * dx + oy * dy) - 0.5 * dz;
      ray[RAY_C] = curve * (ox * ox + oy * oy) - oz;
      return acceptQuadratic(view, ray, facet);
    default:
      return acceptToroid(view, ray, facet);
  }
}

/** Downward slope of the surface: d h/dx and d h/dy at (x, y) of the facet's frame, written to `out[0]`, `out[1]`. */
export function surfaceSlope(
  view: PreparedView,
  facet: number,
  x: number,
  y: number,
  out: Float64Array,
): void {
  const base = facet * FACET_REALS;
  const curve = view.facetReals[base + F_CURVE_A];
  switch (view.facetInts[facet * FACET_INTS + FI_KIND]) {
    case FacetKind.Flat:
      out[0] = 0;
      out[1] = 0;
      return;
    case FacetKind.BentParabola:
      out[0] = 2 * curve * x;
      out[1] = 0;
      return;
    case FacetKind.BentCircle:
      out[0] = x / Math.sqrt(curve * curve - x * x);
      out[1] = 0;
      return;
    case FacetKind.Paraboloid:
      out[0] = 2 * curve * x;
      out[1] = 2 * curve * y;
      return;
    default: {
      const across = view.facetReals[base + F_CURVE_B];
      const p = Math.sqrt(curve * curve - x * x);
      const q = across - curve + p;
      const s = Math.sqrt(q * q - y * y);
      out[0] = (q * x) / (p * s);
      out[1] = y / s;
    }
  }
}

/** Height of the surface over (x, y) of the facet's frame. */
export function surfaceHeight(view: PreparedView, facet: number, x: number, y: number): number {
  const base = facet * FACET_REALS;
  const curve = view.facetReals[base + F_CURVE_A];
  switch (view.facetInts[facet * FACET_INTS + FI_KIND]) {
    case FacetKind.Flat:
      return 0;
    case FacetKind.BentParabola:
      return curve * x * x;
    case FacetKind.BentCircle:
      return (x * x) / (curve + Math.sqrt(curve * curve - x * x));
    case FacetKind.Paraboloid:
      return curve * (x * x + y * y);
    default: {
      const across = view.facetReals[base + F_CURVE_B];
      const sagAlong = (x * x) / (curve + Math.sqrt(curve * curve - x * x));
      const q = across - sagAlong;
      return sagAlong + (y * y) / (q + Math.sqrt(q * q - y * y));
    }
  }
}

/**
 * How far out (u, v) lies in the aperture of a flat receiver: the square of the factor by which the aperture would have to
 * be scaled to reach it (a line strip across only; Infinity beyond its ends). At most 1 inside.
 */
export function apertureScale(view: PreparedView, receiver: number, u: number, v: number): number {
  const base = receiver * RECEIVER_REALS;
  const su = u * u * view.receiverReals[base + R_INVERSE_U];
  const sv = v * v * view.receiverReals[base + R_INVERSE_V];
  const kind = view.receiverInts[receiver * RECEIVER_INTS + RI_KIND];
  if (kind === ReceiverKind.Round) return su + sv;
  if (kind === ReceiverKind.Rectangle) return Math.max(su, sv);
  return su <= 1 ? sv : Number.POSITIVE_INFINITY;
}

/**
 * Nearest meeting with a closed cylinder about the x axis (axis = 0) or z axis (axis = 2) of the frame the ray was
 * last brought into. Sets `scratch.front` to 1 for the curved side, 0 for an end, 2 for the end at the far (+) side.
 * @param reals holds its radius at `radiusAt` and its half length at `halfAt`
 */
function hitClosedCylinder(
  scratch: Scratch,
  axis: number,
  reals: Float64Array,
  radiusAt: number,
  halfAt: number,
): boolean {
  const ray = scratch.ray;
  const radius = reals[radiusAt];
  const halfLength = reals[halfAt];
  const oa = ray[RAY_LO + axis];
  const da = ray[RAY_LD + axis];
  const ob = ray[RAY_LO + 1];
  const db = ray[RAY_LD + 1];
  const oc = ray[RAY_LO + 2 - axis];
  const dc = ray[RAY_LD + 2 - axis];
  const a = db * db + dc * dc;
  const b = ob * db + oc * dc;
  const c = ob * ob + oc * oc - radius * radius;
  let t0 = Number.NEGATIVE_INFINITY;
  let t1 = Number.POSITIVE_INFINITY;
  if (a > 0) {
    const discriminant = b * b - a * c;
    if (!(discriminant >= 0)) return false;
    const root = Math.sqrt(discriminant);
    const q = b >= 0 ? -(b + root) : root - b;
    const first = c / q;
    const second = q / a;
    t0 = first < second ? first : second;
    t1 = first < second ? second : first;
  } else if (c > 0) {
    return false;
  }
  let front = 1;
  if (da === 0) {
    if (Math.abs(oa) > halfLength) return false;
  } else {
    const enter = (-(da > 0 ? halfLength : -halfLength) - oa) / da;
    const leave = ((da > 0 ? halfLength : -halfLength) - oa) / da;
    if (enter > t0) {
      t0 = enter;
      front = da > 0 ? 0 : 2;
    }
    if (leave < t1) t1 = leave;
  }
  if (!(t0 <= t1)) return false;
  // A ray that starts inside meets the wall from within.
  const t = t0 > RAY_START ? t0 : t1;
  if (!(t > RAY_START && t < ray[RAY_T])) return false;
  ray[RAY_T] = t;
  scratch.front = t === t0 ? front : 0;
  return true;
}

/**
 * Nearest meeting with a receiver's opaque part: the aperture's disc or rectangle, or a tube. On a hit `scratch.front` is 1
 * where light can enter, and RAY_U, RAY_V hold the place on its map. A flat receiver whose window is crossed from the
 * front beside the aperture is noted in the crossings and does not stop the ray.
 */
export function hitReceiver(view: PreparedView, scratch: Scratch, receiver: number): boolean {
  const reals = view.receiverReals;
  const ray = scratch.ray;
  const base = receiver * RECEIVER_REALS;
  if (view.receiverInts[receiver * RECEIVER_INTS + RI_KIND] === ReceiverKind.Tube) {
    toFrame(reals, base, ray);
    const radius = reals[base + R_HALF_V];
    if (!hitClosedCylinder(scratch, 0, reals, base + R_HALF_V, base + R_HALF_U)) return false;
    const t = ray[RAY_T];
    ray[RAY_U] = ray[RAY_LO] + t * ray[RAY_LD];
    ray[RAY_V] =
      radius * Math.atan2(ray[RAY_LO + 2] + t * ray[RAY_LD + 2], ray[RAY_LO + 1] + t * ray[RAY_LD + 1]);
    if (scratch.front !== 1) scratch.front = 0;
    return true;
  }
  const zx = reals[base + FRAME_Z];
  const zy = reals[base + FRAME_Z + 1];
  const zz = reals[base + FRAME_Z + 2];
  const px = ray[RAY_O] - reals[base + FRAME_ORIGIN];
  const py = ray[RAY_O + 1] - reals[base + FRAME_ORIGIN + 1];
  const pz = ray[RAY_O + 2] - reals[base + FRAME_ORIGIN + 2];
  const dz = ray[RAY_D] * zx + ray[RAY_D + 1] * zy + ray[RAY_D + 2] * zz;
  const t = -(px * zx + py * zy + pz * zz) / dz;
  // A window in the very plane of what stops the ray is crossed; which of the two equal distances comes out shorter is chance.
  if (!(t > RAY_START && t < ray[RAY_T] + RAY_START)) return false;
  toFrame(reals, base, ray);
  const u = ray[RAY_LO] + t * ray[RAY_LD];
  const v = ray[RAY_LO + 1] + t * ray[RAY_LD + 1];
  const su = u * u * reals[base + R_INVERSE_U];
  const sv = v * v * reals[base + R_INVERSE_V];
  const round = view.receiverInts[receiver * RECEIVER_INTS + RI_KIND] === ReceiverKind.Round;
  if (round ? su + sv <= 1 : su <= 1 && sv <= 1) {
    if (!(t < ray[RAY_T])) return false;
    ray[RAY_T] = t;
    ray[RAY_U] = u;
    ray[RAY_V] = v;
    scratch.front = dz < 0 ? 1 : 0;
    return true;
  }
  if (
    dz < 0 &&
    Math.abs(u) <= reals[base + R_HALF_WINDOW_U] &&
    Math.abs(v) <= reals[base + R_HALF_WINDOW_V]
  ) {
    const k = scratch.crossings++;
    scratch.crossed[k] = receiver;
    scratch.crossingT[k] = t;
    scratch.crossingU[k] = u;
    scratch.crossingV[k] = v;
  }
  return false;
}

/** Nearest meeting with a blocker; `scratch.front` is 1 for its +z end (the front of a receiver's body). */
export function hitBlocker(view: PreparedView, scratch: Scratch, blocker: number): boolean {
  const reals = view.blockerReals;
  const ray = scratch.ray;
  const base = blocker * BLOCKER_REALS;
  toFrame(reals, base, ray);
  if (view.blockerInts[blocker * BLOCKER_INTS + BI_KIND] === BlockerKind.Cylinder) {
    if (!hitClosedCylinder(scratch, 2, reals, base + B_HALF_X, base + B_HALF_Z)) return false;
    scratch.front = scratch.front === 2 ? 1 : 0;
    return true;
  }
  let t0 = Number.NEGATIVE_INFINITY;
  let t1 = Number.POSITIVE_INFINITY;
  let face = -1;
  for (let axis = 0; axis < 3; axis++) {
    const o = ray[RAY_LO + axis];
    const d = ray[RAY_LD + axis];
    const half = reals[base + B_HALF_X + axis];
    if (d === 0) {
      if (Math.abs(o) > half) return false;
      continue;
    }
    const enter = (-(d > 0 ? half : -half) - o) / d;
    const leave = ((d > 0 ? half : -half) - o) / d;
    if (enter > t0) {
      t0 = enter;
      face = axis === 2 && d < 0 ? 1 : 0;
    }
    if (leave < t1) t1 = leave;
  }
  if (!(t0 <= t1)) return false;
  const t = t0 > RAY_START ? t0 : t1;
  if (!(t > RAY_START && t < ray[RAY_T])) return false;
  ray[RAY_T] = t;
  scratch.front = t === t0 && face === 1 ? 1 : 0;
  return true;
}

/** Nearest meeting with any primitive: facets first in the numbering, then receivers, then blockers. */
export function hitPrimitive(view: PreparedView, scratch: Scratch, primitive: number): boolean {
  if (primitive < view.facets) return hitFacet(view, scratch, primitive);
  const receiver = primitive - view.facets;
  if (receiver < view.receivers) return hitReceiver(view, scratch, receiver);
  return hitBlocker(view, scratch, receiver - view.receivers);
}
