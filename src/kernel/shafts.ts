/**
 * For each facet, found once per scene: which primitives can stand between it and the sun, and which between it and its
 * home aperture. Both lists are conservative (nothing that could matter is left out), so using them changes no answer.
 *
 * Everything is treated as a box of eight corners. Two convex bodies are apart if some axis separates their shadows on it;
 * an axis that does not separate proves nothing, so trying too few axes only makes a list longer.
 */
import type { Hierarchy } from './hierarchy.js';
import { NODE_INTS, NODE_REALS } from './layout.js';

/** Doubles per box: eight corners of three; corner index bits 0, 1, 2 choose the high end of x, y, z. */
export const BOX_REALS = 24;

/** Calls `visit` for each primitive of all nodes whose bounding sphere passes `mayTouch(cx, cy, cz, radius)`. */
function visitNear(
  hierarchy: Hierarchy,
  mayTouch: (cx: number, cy: number, cz: number, radius: number) => boolean,
  visit: (primitive: number) => void,
): void {
  const { nodeBounds, nodeInts, primitives } = hierarchy;
  const stack = [0];
  for (let node = stack.pop(); node !== undefined; node = stack.pop()) {
    const b = node * NODE_REALS;
    const hx = 0.5 * (nodeBounds[b + 3] - nodeBounds[b]);
    const hy = 0.5 * (nodeBounds[b + 4] - nodeBounds[b + 1]);
    const hz = 0.5 * (nodeBounds[b + 5] - nodeBounds[b + 2]);
    const radius = Math.sqrt(hx * hx + hy * hy + hz * hz);
    if (!mayTouch(nodeBounds[b] + hx, nodeBounds[b + 1] + hy, nodeBounds[b + 2] + hz, radius)) continue;
    const count = nodeInts[node * NODE_INTS + 1];
    if (count < 0) {
      stack.push(node + 1, nodeInts[node * NODE_INTS]);
      continue;
    }
    const first = nodeInts[node * NODE_INTS];
    for (let i = first; i < first + count; i++) visit(primitives[i]);
  }
}

interface Sphere {
  readonly x: number;
  readonly y: number;
  readonly z: number;
  readonly radius: number;
}

function boundingSphere(corners: Float64Array, base: number): Sphere {
  let x = 0;
  let y = 0;
  let z = 0;
  for (let c = 0; c < BOX_REALS; c += 3) {
    x += corners[base + c] / 8;
    y += corners[base + c + 1] / 8;
    z += corners[base + c + 2] / 8;
  }
  let squared = 0;
  for (let c = 0; c < BOX_REALS; c += 3) {
    const dx = corners[base + c] - x;
    const dy = corners[base + c + 1] - y;
    const dz = corners[base + c + 2] - z;
    squared = Math.max(squared, dx * dx + dy * dy + dz * dz);
  }
  return { x, y, z, radius: Math.sqrt(squared) };
}

/** Edge `axis` (0, 1, 2) of a box, not normalised. */
function edge(corners: Float64Array, base: number, axis: number, out: Float64Array): void {
  const far = base + 3 * (1 << axis);
  for (let k = 0; k < 3; k++) out[k] = corners[far + k] - corners[base + k];
}

function cross(a: Float64Array, b: Float64Array, out: Float64Array): void {
  const x = a[1] * b[2] - a[2] * b[1];
  const y = a[2] * b[0] - a[0] * b[2];
  const z = a[0] * b[1] - a[1] * b[0];
  out[0] = x;
  out[1] = y;
  out[2] = z;
}

/** Lowest and highest value of axis . corner over a box, as [low, high] in `out`. */
function extent(corners: Float64Array, base: number, axis: Float64Array, out: Float64Array): void {
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (let c = base; c < base + BOX_REALS; c += 3) {
    const value = axis[0] * corners[c] + axis[1] * corners[c + 1] + axis[2] * corners[c + 2];
    if (value < low) low = value;
    if (value > high) high = value;
  }
  out[0] = low;
  out[1] = high;
}

/**
 * @param corners BOX_REALS per primitive: its opaque part
 * @param facet whose lists are wanted
 * @param sun unit vector to the sun's centre
 * @param sunLimit largest angle of sunlight from that direction, radians
 * @returns ids of all primitives but the facet itself that can shade some point of the facet
 */
export function possibleShaders(
  hierarchy: Hierarchy,
  corners: Float64Array,
  facet: number,
  sun: Float64Array,
  sunLimit: number,
): number[] {
  const own = facet * BOX_REALS;
  const sphere = boundingSphere(corners, own);
  const spread = Math.tan(sunLimit) * (1 + 1e-9);
  const range = new Float64Array(2);
  const otherRange = new Float64Array(2);
  const side = new Float64Array(3);
  const axis = new Float64Array(3);
  extent(corners, own, sun, range);
  const lowest = range[0];
  const found: number[] = [];
  visitNear(
    hierarchy,
    (cx, cy, cz, radius) => {
      const dx = cx - sphere.x;
      const dy = cy - sphere.y;
      const dz = cz - sphere.z;
      const along = dx * sun[0] + dy * sun[1] + dz * sun[2];
      const reach = radius + sphere.radius;
      if (along < -reach) return false;
      const across = Math.sqrt(Math.max(0, dx * dx + dy * dy + dz * dz - along * along));
      return across <= reach + spread * Math.max(0, along + reach) + 1e-9;
    },
    (primitive) => {
      if (primitive === facet) return;
      const other = primitive * BOX_REALS;
      extent(corners, other, sun, otherRange);
      if (otherRange[1] <= lowest) return;
      const margin = spread * (otherRange[1] - lowest) + 1e-9;
      // Looked at along the sun both boxes are hulls whose sides run along their projected edges.
      for (const base of [own, other]) {
        for (let k = 0; k < 3; k++) {
          edge(corners, base, k, side);
          cross(side, sun, axis);
          const length = Math.sqrt(axis[0] * axis[0] + axis[1] * axis[1] + axis[2] * axis[2]);
          if (length < 1e-12) continue;
          for (let c = 0; c < 3; c++) axis[c] /= length;
          extent(corners, own, axis, range);
          extent(corners, other, axis, otherRange);
          if (otherRange[0] - range[1] > margin || range[0] - otherRange[1] > margin) return;
        }
      }
      found.push(primitive);
    },
  );
  return found.sort((a, b) => a - b);
}

/** Numbers of an axis of a shaft: the axis, and the lowest and highest value of the shaft on it. */
const AXIS_REALS = 5;

/** Axes shorter than this come of parallel edges and tell nothing. */
const SHORTEST_AXIS = 1e-12;

/**
 * Which axes of a shaft are wanted: the faces of both ends (few, and most bodies lie beyond one), those square to its length and to an
 * edge of either end (few as well, and most of the rest lies beside it), or its long sides.
 */
type AxesOf = 'faces' | 'length' | 'sides';
const MOST_AXES: Readonly<Record<AxesOf, number>> = { faces: 6, length: 6, sides: 8 * 8 * 6 };

/** Axes with what the shaft covers on them. */
class Axes {
  readonly reals: Float64Array;
  count = 0;

  constructor(
    readonly corners: Float64Array,
    readonly own: number,
    readonly aperture: Float64Array,
    wanted: AxesOf,
  ) {
    this.reals = new Float64Array(MOST_AXES[wanted] * AXIS_REALS);
  }

  /** Notes the axis square to two vectors. */
  note(ax: number, ay: number, az: number, bx: number, by: number, bz: number): void {
    const x = ay * bz - az * by;
    const y = az * bx - ax * bz;
    const z = ax * by - ay * bx;
    const length = Math.sqrt(x * x + y * y + z * z);
    if (length < SHORTEST_AXIS) return;
    const { corners, own, aperture } = this;
    let low = Number.POSITIVE_INFINITY;
    let high = Number.NEGATIVE_INFINITY;
    for (let c = 0; c < BOX_REALS; c += 3) {
      const here = x * corners[own + c] + y * corners[own + c + 1] + z * corners[own + c + 2];
      const there = x * aperture[c] + y * aperture[c + 1] + z * aperture[c + 2];
      if (here < low) low = here;
      if (here > high) high = here;
      if (there < low) low = there;
      if (there > high) high = there;
    }
    this.keep(x, y, z, low, high, 1e-9 * length);
  }

  /**
   * Notes the axis square to an edge and to the way between a corner of either end, if all of the shaft lies to one side of the plane
   * that it stands on: only then is that plane a side of the shaft.
   * @param f corner of the own box, first of its three numbers in `corners`
   */
  noteSide(f: number, ax: number, ay: number, az: number, bx: number, by: number, bz: number): void {
    const x = ay * bz - az * by;
    const y = az * bx - ax * bz;
    const z = ax * by - ay * bx;
    const length = Math.sqrt(x * x + y * y + z * z);
    if (length < SHORTEST_AXIS) return;
    const { corners, own, aperture } = this;
    const plane = x * corners[f] + y * corners[f + 1] + z * corners[f + 2];
    const slack = 1e-9 * length;
    let low = plane;
    let high = plane;
    for (let c = 0; c < BOX_REALS; c += 3) {
      const here = x * corners[own + c] + y * corners[own + c + 1] + z * corners[own + c + 2];
      const there = x * aperture[c] + y * aperture[c + 1] + z * aperture[c + 2];
      if (here < low) low = here;
      if (here > high) high = here;
      if (there < low) low = there;
      if (there > high) high = there;
      if (low < plane - slack && high > plane + slack) return;
    }
    this.keep(x, y, z, low, high, slack);
  }

  private keep(x: number, y: number, z: number, low: number, high: number, slack: number): void {
    const { reals } = this;
    const out = this.count * AXIS_REALS;
    reals[out] = x;
    reals[out + 1] = y;
    reals[out + 2] = z;
    reals[out + 3] = low - slack;
    reals[out + 4] = high + slack;
    this.count++;
  }

  all(): Float64Array {
    return this.reals.subarray(0, this.count * AXIS_REALS);
  }
}

/** Axes that may part a shaft (all straight lines from one box to another) from a third body, whichever that is. */
function shaftAxes(corners: Float64Array, own: number, aperture: Float64Array, wanted: AxesOf): Float64Array {
  const axes = new Axes(corners, own, aperture, wanted);
  const edges = [edgesOf(corners, own), edgesOf(aperture, 0)];
  if (wanted === 'faces') {
    for (const e of edges) {
      for (let k = 0; k < 9; k += 3) {
        const next = (k + 3) % 9;
        axes.note(e[k], e[k + 1], e[k + 2], e[next], e[next + 1], e[next + 2]);
      }
    }
    return axes.all();
  }
  if (wanted === 'length') {
    // From middle to middle: twice the middle of a box is the sum of two opposite corners.
    const [x, y, z] = [0, 1, 2].map(
      (c) => aperture[c] + aperture[21 + c] - corners[own + c] - corners[own + 21 + c],
    );
    for (const e of edges) for (let k = 0; k < 9; k += 3) axes.note(e[k], e[k + 1], e[k + 2], x, y, z);
    return axes.all();
  }
  for (let f = own; f < own + BOX_REALS; f += 3) {
    for (let p = 0; p < BOX_REALS; p += 3) {
      const x = aperture[p] - corners[f];
      const y = aperture[p + 1] - corners[f + 1];
      const z = aperture[p + 2] - corners[f + 2];
      for (const e of edges) {
        for (let k = 0; k < 9; k += 3) axes.noteSide(f, e[k], e[k + 1], e[k + 2], x, y, z);
      }
    }
  }
  return axes.all();
}

/** The three edges of a box from its first corner, not normalised. */
function edgesOf(corners: Float64Array, base: number): Float64Array {
  const edges = new Float64Array(9);
  for (let axis = 0; axis < 3; axis++) {
    for (let k = 0; k < 3; k++) edges[3 * axis + k] = corners[base + 3 * (1 << axis) + k] - corners[base + k];
  }
  return edges;
}

/** Whether some axis of the shaft parts it from the box at `other`. */
function apartOnSome(axes: Float64Array, corners: Float64Array, other: number): boolean {
  for (let at = 0; at < axes.length; at += AXIS_REALS) {
    const ax = axes[at];
    const ay = axes[at + 1];
    const az = axes[at + 2];
    let low = Number.POSITIVE_INFINITY;
    let high = Number.NEGATIVE_INFINITY;
    for (let c = other; c < other + BOX_REALS; c += 3) {
      const value = ax * corners[c] + ay * corners[c + 1] + az * corners[c + 2];
      if (value < low) low = value;
      if (value > high) high = value;
    }
    if (low > axes[at + 4] || high < axes[at + 3]) return true;
  }
  return false;
}

/** Whether a face of the box at `other` parts it from the shaft. */
function apartOnOwnFaces(corners: Float64Array, own: number, aperture: Float64Array, other: number): boolean {
  const a = new Float64Array(3);
  const b = new Float64Array(3);
  const axis = new Float64Array(3);
  const r1 = new Float64Array(2);
  const r2 = new Float64Array(2);
  const r3 = new Float64Array(2);
  for (let k = 0; k < 3; k++) {
    edge(corners, other, k, a);
    edge(corners, other, (k + 1) % 3, b);
    cross(a, b, axis);
    const length = Math.sqrt(axis[0] * axis[0] + axis[1] * axis[1] + axis[2] * axis[2]);
    if (length < SHORTEST_AXIS) continue;
    extent(corners, own, axis, r1);
    extent(aperture, 0, axis, r2);
    extent(corners, other, axis, r3);
    const slack = 1e-9 * length;
    if (r3[0] > Math.max(r1[1], r2[1]) + slack || r3[1] < Math.min(r1[0], r2[0]) - slack) return true;
  }
  return false;
}

/**
 * @param corners BOX_REALS per primitive (receivers with their whole window)
 * @param aperture BOX_REALS: the home aperture
 * @param isLeftOut primitives that are not asked about: the home receiver, which the kernel tests first of all
 * @returns ids of all primitives but the facet itself that can meet a straight line from the facet to its home aperture
 */
export function possibleObstacles(
  hierarchy: Hierarchy,
  corners: Float64Array,
  facet: number,
  aperture: Float64Array,
  isLeftOut: (primitive: number) => boolean,
): number[] {
  const own = facet * BOX_REALS;
  const start = boundingSphere(corners, own);
  const end = boundingSphere(aperture, 0);
  const wide = Math.max(start.radius, end.radius);
  const lx = end.x - start.x;
  const ly = end.y - start.y;
  const lz = end.z - start.z;
  const lengthSquared = lx * lx + ly * ly + lz * lz;
  const found: number[] = [];
  let faces: Float64Array | null = null;
  let length: Float64Array | null = null;
  let sides: Float64Array | null = null;
  const separated = (other: number): boolean => {
    faces ??= shaftAxes(corners, own, aperture, 'faces');
    if (apartOnSome(faces, corners, other)) return true;
    length ??= shaftAxes(corners, own, aperture, 'length');
    if (apartOnSome(length, corners, other) || apartOnOwnFaces(corners, own, aperture, other)) return true;
    sides ??= shaftAxes(corners, own, aperture, 'sides');
    return apartOnSome(sides, corners, other);
  };
  visitNear(
    hierarchy,
    (cx, cy, cz, radius) => {
      const dx = cx - start.x;
      const dy = cy - start.y;
      const dz = cz - start.z;
      const share =
        lengthSquared > 0 ? Math.min(1, Math.max(0, (dx * lx + dy * ly + dz * lz) / lengthSquared)) : 0;
      const reach = wide + radius + 1e-9;
      return (dx - share * lx) ** 2 + (dy - share * ly) ** 2 + (dz - share * lz) ** 2 <= reach * reach;
    },
    (primitive) => {
      if (primitive === facet || isLeftOut(primitive)) return;
      if (!separated(primitive * BOX_REALS)) found.push(primitive);
    },
  );
  return found.sort((p, q) => p - q);
}

/** A rectangle in a facet's own x and y. */
export type Zone = readonly [lowX: number, highX: number, lowY: number, highY: number];

const NO_ZONE: Zone = [
  Number.POSITIVE_INFINITY,
  Number.NEGATIVE_INFINITY,
  Number.POSITIVE_INFINITY,
  Number.NEGATIVE_INFINITY,
];
export const WHOLE_ZONE: Zone = [
  Number.NEGATIVE_INFINITY,
  Number.POSITIVE_INFINITY,
  Number.NEGATIVE_INFINITY,
  Number.POSITIVE_INFINITY,
];

/**
 * Where on a facet one primitive may stand before the sun; conservative, as the lists are.
 *
 * In the facet's frame, light that meets the surface at height h came past a corner at height h + H, H (s_x / s_z) further
 * along x. H and, within the sun's limit, the slope s_x / s_z of the light lie between known bounds, and the shadow of
 * a box is within those of its corners.
 *
 * @param corners BOX_REALS per primitive: its opaque part
 * @param frame of the facet: origin, then axes x, y, z, twelve doubles
 * @param zLow lowest, zHigh highest point of the surface in its own frame
 * @param sun unit vector to the sun's centre
 * @param sunLimit largest angle of sunlight from that direction, radians
 */
export function shadowZone(
  corners: Float64Array,
  primitive: number,
  frame: ArrayLike<number>,
  zLow: number,
  zHigh: number,
  sun: ArrayLike<number>,
  sunLimit: number,
): Zone {
  // Directions within the limit differ from the centre's by no more than the chord, in any component.
  const chord = 2 * Math.sin(sunLimit / 2) + 1e-12;
  const sunZ = sun[0] * frame[9] + sun[1] * frame[10] + sun[2] * frame[11];
  if (!(sunZ - chord > 0)) return WHOLE_ZONE;
  const x = shadowAlong(corners, primitive, frame, 3, zLow, zHigh, sun, sunZ, chord);
  const y = shadowAlong(corners, primitive, frame, 6, zLow, zHigh, sun, sunZ, chord);
  return [x[0], x[1], y[0], y[1]];
}

/** Lowest and highest value of the shadow along one axis of the facet; `axis`: its first number in the frame. */
function shadowAlong(
  corners: Float64Array,
  primitive: number,
  frame: ArrayLike<number>,
  axis: number,
  zLow: number,
  zHigh: number,
  sun: ArrayLike<number>,
  sunZ: number,
  chord: number,
): readonly [number, number] {
  const ax = frame[axis];
  const ay = frame[axis + 1];
  const az = frame[axis + 2];
  const sunAxis = sun[0] * ax + sun[1] * ay + sun[2] * az;
  const steep = sunZ - chord;
  const flat = sunZ + chord;
  const least = (sunAxis - chord) / (sunAxis - chord < 0 ? steep : flat);
  const most = (sunAxis + chord) / (sunAxis + chord > 0 ? steep : flat);
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (let c = primitive * BOX_REALS; c < (primitive + 1) * BOX_REALS; c += 3) {
    const x = corners[c] - frame[0];
    const y = corners[c + 1] - frame[1];
    const z = corners[c + 2] - frame[2];
    const place = x * ax + y * ay + z * az;
    const height = x * frame[9] + y * frame[10] + z * frame[11];
    for (let end = 0; end < 2; end++) {
      const above = height - (end === 0 ? zLow : zHigh);
      const one = place - above * least;
      const other = place - above * most;
      if (one < low) low = one;
      if (other < low) low = other;
      if (one > high) high = one;
      if (other > high) high = other;
    }
  }
  const margin = 1e-9;
  return [low - margin, high + margin];
}

/** The smallest zone round all of them. */
export function zoneRound(zones: readonly Zone[]): Zone {
  return zones.reduce(
    (all, zone): Zone => [
      Math.min(all[0], zone[0]),
      Math.max(all[1], zone[1]),
      Math.min(all[2], zone[2]),
      Math.max(all[3], zone[3]),
    ],
    NO_ZONE,
  );
}
