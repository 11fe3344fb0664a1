/** A bounding hierarchy over all primitives: built once per scene, walked without recursion. */

import { hitPrimitive, type Scratch } from './intersect.js';
import type { PreparedView } from './layout.js';
import * as layout from './layout.js';
import * as rayLayout from './ray.js';

// Imported bindings are read anew at every use; constants of the module itself are compiled into the loop.
const { NODE_INTS, NODE_REALS, ZONE_REALS } = layout;
const { RAY_D, RAY_O, RAY_START, RAY_T } = rayLayout;

const LEAF_SIZE = 2;

export interface Hierarchy {
  readonly nodeBounds: Float64Array;
  readonly nodeInts: Int32Array;
  readonly primitives: Int32Array;
}

/**
 * Splits at the median of the boxes' centres along the longest side.
 * @param boxes NODE_REALS doubles per primitive: xlo, ylo, zlo, xhi, yhi, zhi
 * @param leafSize most primitives in a leaf; Infinity makes one leaf of everything (every query then tries all)
 */
export function buildHierarchy(boxes: Float64Array, leafSize: number = LEAF_SIZE): Hierarchy {
  const count = boxes.length / NODE_REALS;
  const primitives = Int32Array.from({ length: count }, (_, i) => i);
  const bounds: number[] = [];
  const ints: number[] = [];
  // Nodes are laid out parent, left subtree, right subtree, so a left child needs no index.
  const build = (first: number, last: number): void => {
    const node = ints.length / NODE_INTS;
    const low = [Number.POSITIVE_INFINITY, Number.POSITIVE_INFINITY, Number.POSITIVE_INFINITY];
    const high = [Number.NEGATIVE_INFINITY, Number.NEGATIVE_INFINITY, Number.NEGATIVE_INFINITY];
    for (let i = first; i < last; i++) {
      for (let axis = 0; axis < 3; axis++) {
        low[axis] = Math.min(low[axis], boxes[primitives[i] * NODE_REALS + axis]);
        high[axis] = Math.max(high[axis], boxes[primitives[i] * NODE_REALS + 3 + axis]);
      }
    }
    bounds.push(...low, ...high);
    ints.push(first, last - first);
    if (last - first <= leafSize) return;
    let axis = 0;
    for (let other = 1; other < 3; other++)
      if (high[other] - low[other] > high[axis] - low[axis]) axis = other;
    const centre = (p: number) => boxes[p * NODE_REALS + axis] + boxes[p * NODE_REALS + 3 + axis];
    primitives.subarray(first, last).sort((p, q) => centre(p) - centre(q) || p - q);
    const middle = (first + last) >> 1;
    build(first, middle);
    ints[node * NODE_INTS] = ints.length / NODE_INTS;
    ints[node * NODE_INTS + 1] = -(axis + 1);
    build(middle, last);
  };
  build(0, count);
  return { nodeBounds: Float64Array.from(bounds), nodeInts: Int32Array.from(ints), primitives };
}

/**
 * The nearest primitive the ray meets before RAY_T, or -1. RAY_T is lowered to the hit; the windows crossed on the way
 * are noted in the scratch (those beyond the hit must be ignored by the caller).
 */
export function nearestHit(view: PreparedView, scratch: Scratch): number {
  const { ray, stack } = scratch;
  const { nodeBounds, nodeInts, primitives } = view;
  const ox = ray[RAY_O];
  const oy = ray[RAY_O + 1];
  const oz = ray[RAY_O + 2];
  const ix = 1 / ray[RAY_D];
  const iy = 1 / ray[RAY_D + 1];
  const iz = 1 / ray[RAY_D + 2];
  scratch.crossings = 0;
  let found = -1;
  let depth = 0;
  let node = 0;
  for (;;) {
    const b = node * NODE_REALS;
    // A ray exactly in the plane of a box's side makes NaN, which may pass or fail: boxes are padded, nothing lies in there.
    const ax = (nodeBounds[b] - ox) * ix;
    const bx = (nodeBounds[b + 3] - ox) * ix;
    const ay = (nodeBounds[b + 1] - oy) * iy;
    const by = (nodeBounds[b + 4] - oy) * iy;
    const az = (nodeBounds[b + 2] - oz) * iz;
    const bz = (nodeBounds[b + 5] - oz) * iz;
    let enter = RAY_START;
    let leave = ray[RAY_T];
    const x0 = ax < bx ? ax : bx;
    const x1 = ax < bx ? bx : ax;
    const y0 = ay < by ? ay : by;
    const y1 = ay < by ? by : ay;
    const z0 = az < bz ? az : bz;
    const z1 = az < bz ? bz : az;
    if (x0 > enter) enter = x0;
    if (y0 > enter) enter = y0;
    if (z0 > enter) enter = z0;
    if (x1 < leave) leave = x1;
    if (y1 < leave) leave = y1;
    if (z1 < leave) leave = z1;
    if (!(enter > leave)) {
      const count = nodeInts[node * NODE_INTS + 1];
      if (count < 0) {
        const right = nodeInts[node * NODE_INTS];
        const axis = -count - 1;
        const forward = axis === 0 ? ix >= 0 : axis === 1 ? iy >= 0 : iz >= 0;
        if (forward) {
          stack[depth++] = right;
          node = node + 1;
        } else {
          stack[depth++] = node + 1;
          node = right;
        }
        continue;
      }
      const first = nodeInts[node * NODE_INTS];
      for (let i = first; i < first + count; i++) {
        if (hitPrimitive(view, scratch, primitives[i])) found = primitives[i];
      }
    }
    if (depth === 0) return found;
    node = stack[--depth];
  }
}

/** The nearest of the listed primitives before RAY_T, or -1; otherwise as `nearestHit`. */
export function nearestOfList(
  view: PreparedView,
  scratch: Scratch,
  list: Int32Array,
  start: number,
  count: number,
): number {
  scratch.crossings = 0;
  let found = -1;
  for (let i = start; i < start + count; i++) {
    if (hitPrimitive(view, scratch, list[i])) found = list[i];
  }
  return found;
}

/**
 * Whether any of a facet's possible shaders lies on the ray: stops at the first. RAY_T must be set to Infinity before.
 * @param point where on the facet the ray starts: x and y in its own frame at `at` and `at + 1`
 */
export function isShaded(
  view: PreparedView,
  scratch: Scratch,
  start: number,
  count: number,
  point: Float64Array,
  at: number,
): boolean {
  const { shaders, shaderZones } = view;
  const x = point[at];
  const y = point[at + 1];
  for (let i = start; i < start + count; i++) {
    const zone = i * ZONE_REALS;
    if (x < shaderZones[zone] || x > shaderZones[zone + 1]) continue;
    if (y < shaderZones[zone + 2] || y > shaderZones[zone + 3]) continue;
    scratch.crossings = 0;
    if (hitPrimitive(view, scratch, shaders[i])) return true;
  }
  return false;
}
