/**
 * The mirror surfaces as mathematics: z = h(x, y) in the facet frame, h(0, 0) = 0, for use outside the ray loop.
 *
 *   bent, parabola   h = x^2 / 4f
 *   bent, circle     h = R - sqrt(R^2 - x^2), R = 2f
 *   paraboloid       h = (x^2 + y^2) / 4f
 *   toroid           h = B - sqrt((B - c(x))^2 - y^2), c(x) = A - sqrt(A^2 - x^2), A = radiusAlong, B = radiusAcross
 *
 * Circles are written as x^2 / (R + sqrt(R^2 - x^2)), which keeps all digits where the mirror is small.
 */
import type { FacetShape, Outline, Vec3 } from '../scene/types.js';

/** Sag of a circle of radius `radius` at `x`; not a number beyond it. */
function circleSag(radius: number, x: number): number {
  return x ** 2 / (radius + Math.sqrt(radius ** 2 - x ** 2));
}

/** Height of the surface above its vertex plane, m; not a number where the surface does not reach. */
export function surfaceHeight(shape: FacetShape, x: number, y: number): number {
  switch (shape.kind) {
    case 'flat':
      return 0;
    case 'bent':
      return shape.curve === 'parabola'
        ? x ** 2 / (4 * shape.focalLength)
        : circleSag(2 * shape.focalLength, x);
    case 'paraboloid':
      return (x ** 2 + y ** 2) / (4 * shape.focalLength);
    case 'toroid': {
      const sag = circleSag(shape.radiusAlong, x);
      return sag + circleSag(shape.radiusAcross - sag, y);
    }
  }
}

/** Slopes dh/dx and dh/dy. */
export function surfaceGradient(shape: FacetShape, x: number, y: number): readonly [number, number] {
  switch (shape.kind) {
    case 'flat':
      return [0, 0];
    case 'bent':
      return shape.curve === 'parabola'
        ? [x / (2 * shape.focalLength), 0]
        : [x / Math.sqrt((2 * shape.focalLength) ** 2 - x ** 2), 0];
    case 'paraboloid':
      return [x / (2 * shape.focalLength), y / (2 * shape.focalLength)];
    case 'toroid': {
      const drop = Math.sqrt(shape.radiusAlong ** 2 - x ** 2);
      const reach = shape.radiusAcross - circleSag(shape.radiusAlong, x);
      const height = Math.sqrt(reach ** 2 - y ** 2);
      return [((x / drop) * reach) / height, y / height];
    }
  }
}

/** Unit normal on the reflecting side, facet frame. */
export function surfaceNormal(shape: FacetShape, x: number, y: number): Vec3 {
  const [slopeX, slopeY] = surfaceGradient(shape, x, y);
  const length = Math.sqrt(1 + slopeX ** 2 + slopeY ** 2);
  return [-slopeX / length, -slopeY / length, 1 / length];
}

/** True area per area of the outline: sqrt(1 + hx^2 + hy^2). */
export function surfaceElement(shape: FacetShape, x: number, y: number): number {
  const [slopeX, slopeY] = surfaceGradient(shape, x, y);
  return Math.sqrt(1 + slopeX ** 2 + slopeY ** 2);
}

/** Area of the outline projected on the facet's x-y plane, m2. */
export function outlineArea(outline: Outline): number {
  return outline.kind === 'rectangle'
    ? outline.length * outline.width
    : (Math.PI / 4) * (outline.diameter ** 2 - outline.holeDiameter ** 2);
}

/** Ranges of x and y that the outline covers. */
function outlineRange(outline: Outline): { x: readonly [number, number]; y: readonly [number, number] } {
  if (outline.kind === 'round') {
    const radius = outline.diameter / 2;
    return { x: [-radius, radius], y: [-radius, radius] };
  }
  const [centreX, centreY] = outline.centre;
  return {
    x: [centreX - outline.length / 2, centreX + outline.length / 2],
    y: [centreY - outline.width / 2, centreY + outline.width / 2],
  };
}

/** Whether the surface reaches, short of standing upright, to every point of the outline. */
export function reachesAll(shape: FacetShape, outline: Outline): boolean {
  const { x, y } = outlineRange(outline);
  const farX = Math.max(-x[0], x[1]);
  const farY = Math.max(-y[0], y[1]);
  const corners: readonly (readonly [number, number])[] =
    outline.kind === 'rectangle'
      ? [[farX, farY]]
      : [
          [farX, 0],
          [0, farY],
        ];
  if (!corners.every(([cornerX, cornerY]) => Number.isFinite(surfaceElement(shape, cornerX, cornerY))))
    return false;
  // A rectangular toroid can end between its corners: its circle across shrinks (and past zero grows again) along x.
  return (
    shape.kind !== 'toroid' ||
    outline.kind !== 'rectangle' ||
    shape.radiusAcross - surfaceHeight(shape, farX, 0) > farY
  );
}

/** Positive nodes and weights of the 16-point Gauss-Legendre rule on [-1, 1], by Newton's method on P16. */
function gaussLegendre16(): readonly (readonly [number, number])[] {
  const order = 16;
  return Array.from({ length: order / 2 }, (_, index) => {
    let node = Math.cos((Math.PI * (index + 0.75)) / (order + 0.5));
    let slope = 0;
    for (let pass = 0; pass < 8; pass++) {
      let previous = 1;
      let current = node;
      for (let degree = 2; degree <= order; degree++) {
        const next = ((2 * degree - 1) * node * current - (degree - 1) * previous) / degree;
        previous = current;
        current = next;
      }
      slope = (order * (node * current - previous)) / (node ** 2 - 1);
      node -= current / slope;
    }
    return [node, 2 / ((1 - node ** 2) * slope ** 2)] as const;
  });
}

const RULE = gaussLegendre16();

/** Integral of a smooth function; panels are halved until the sum stands still in its last digits. */
function integrate(from: number, to: number, integrand: (at: number) => number): number {
  let before = Number.NaN;
  for (let panels = 1; panels <= 256; panels *= 2) {
    const half = (to - from) / (2 * panels);
    let sum = 0;
    for (let panel = 0; panel < panels; panel++) {
      const middle = from + (2 * panel + 1) * half;
      for (const [node, weight] of RULE) {
        sum += weight * (integrand(middle - half * node) + integrand(middle + half * node));
      }
    }
    const value = sum * half;
    if (Math.abs(value - before) <= 1e-14 * Math.abs(value)) {
      return value;
    }
    before = value;
  }
  return before;
}

type Slice = (x: number, lowY: number, highY: number) => number;

/** Area of the slice dx of a surface between two y, divided by dx: closed in y for every shape. */
function sliceOf(shape: FacetShape): Slice {
  switch (shape.kind) {
    case 'flat':
      return (_x, lowY, highY) => highY - lowY;
    case 'bent':
      return (x, lowY, highY) => (highY - lowY) * surfaceElement(shape, x, 0);
    case 'paraboloid': {
      const twoF = 2 * shape.focalLength;
      return (x, lowY, highY) => {
        // Integral of sqrt(k^2 + y^2) dy, k^2 = (2f)^2 + x^2.
        const k = Math.hypot(twoF, x);
        const primitive = (y: number) => y * Math.hypot(k, y) + k ** 2 * Math.asinh(y / k);
        return (primitive(highY) - primitive(lowY)) / (2 * twoF);
      };
    }
    case 'toroid':
      return (x, lowY, highY) => {
        // The circle's element ds, carried round the line at the height B over the angle between the two y.
        const reach = shape.radiusAcross - circleSag(shape.radiusAlong, x);
        const angle = Math.asin(highY / reach) - Math.asin(lowY / reach);
        return (reach * angle * shape.radiusAlong) / Math.sqrt(shape.radiusAlong ** 2 - x ** 2);
      };
  }
}

/** Length of a bent strip's curve from the vertex to `x`, with the sign of x. */
function arcLength(shape: Extract<FacetShape, { kind: 'bent' }>, x: number): number {
  const radius = 2 * shape.focalLength;
  if (shape.curve === 'circle') {
    return radius * Math.asin(x / radius);
  }
  const slope = x / radius;
  return (x * Math.sqrt(1 + slope ** 2) + radius * Math.asinh(slope)) / 2;
}

/** Area of the surface over a disc about the vertex. */
function discArea(shape: FacetShape, radius: number): number {
  if (radius === 0) {
    return 0;
  }
  if (shape.kind === 'paraboloid') {
    // (8 pi f^2 / 3) ((1 + q)^(3/2) - 1), q = (r / 2f)^2, with the difference taken without losing digits.
    const q = (radius / (2 * shape.focalLength)) ** 2;
    const growth = Math.expm1(1.5 * Math.log1p(q));
    return ((8 * Math.PI * shape.focalLength ** 2) / 3) * growth;
  }
  const slice = sliceOf(shape);
  // x = r sin t takes the square root at the rim out of the integrand.
  return integrate(-Math.PI / 2, Math.PI / 2, (t) => {
    const halfChord = radius * Math.cos(t);
    return slice(radius * Math.sin(t), -halfChord, halfChord) * halfChord;
  });
}

/**
 * True area of the mirror, m2, to about 1e-14 of itself: in closed form where there is one, otherwise closed along
 * y and by Gauss-Legendre along x.
 * @returns not a number where the surface does not reach all of the outline
 */
export function surfaceArea(shape: FacetShape, outline: Outline): number {
  if (!reachesAll(shape, outline)) {
    return Number.NaN;
  }
  if (shape.kind === 'flat') {
    return outlineArea(outline);
  }
  if (outline.kind === 'round') {
    return discArea(shape, outline.diameter / 2) - discArea(shape, outline.holeDiameter / 2);
  }
  const { x, y } = outlineRange(outline);
  if (shape.kind === 'bent') {
    return outline.width * (arcLength(shape, x[1]) - arcLength(shape, x[0]));
  }
  const slice = sliceOf(shape);
  if (shape.kind === 'toroid') {
    // x = A sin t takes the pole where the circle turns upright out of the integrand.
    const { radiusAlong } = shape;
    return integrate(Math.asin(x[0] / radiusAlong), Math.asin(x[1] / radiusAlong), (t) => {
      const at = radiusAlong * Math.sin(t);
      return slice(at, y[0], y[1]) * Math.sqrt(radiusAlong ** 2 - at ** 2);
    });
  }
  return integrate(x[0], x[1], (at) => slice(at, y[0], y[1]));
}

/** Box round the patch in the facet frame. */
export interface PatchBounds {
  readonly low: Vec3;
  readonly high: Vec3;
}

function nearestToZero(range: readonly [number, number]): number {
  return Math.min(Math.max(0, range[0]), range[1]);
}

function farthestFromZero(range: readonly [number, number]): number {
  return -range[0] > range[1] ? range[0] : range[1];
}

/**
 * The tightest box round the patch in the facet frame. Heights grow with |x| and |y|; round an edge circle they run
 * between its ends on the two axes without a turning point between (true of all shapes here: h depends on
 * x^2 and y^2, and along x^2 + y^2 = const its slope never changes sign).
 */
export function surfaceBounds(shape: FacetShape, outline: Outline): PatchBounds {
  const { x, y } = outlineRange(outline);
  let low: number;
  let high: number;
  if (outline.kind === 'rectangle') {
    low = surfaceHeight(shape, nearestToZero(x), nearestToZero(y));
    high = surfaceHeight(shape, farthestFromZero(x), farthestFromZero(y));
  } else {
    const radius = outline.diameter / 2;
    const hole = outline.holeDiameter / 2;
    low = Math.min(surfaceHeight(shape, hole, 0), surfaceHeight(shape, 0, hole));
    high = Math.max(surfaceHeight(shape, radius, 0), surfaceHeight(shape, 0, radius));
  }
  return { low: [x[0], y[0], low], high: [x[1], y[1], high] };
}
