/** Where the light of a faultless build would cross a receiver: no rays drawn by chance, no sunshape, no errors. */
import type { Outline, Vec3 } from '../scene/types.js';
import { directionToLocal, directionToParent, pointToLocal, pointToParent } from './frame.js';
import { surfaceGradient, surfaceHeight } from './surface.js';
import type { Field, Frame, PlacedFacet, PlacedReceiver } from './types.js';

/** The sun's centre, mirrored in the home facets of one receiver. Lengths in metres, receiver frame. */
export interface Crossings {
  /**
   * Power-weighted centre. Flat receivers: (u, v) on the receiver plane. Tubes: u along the axis and v the signed
   * distance at which the ray passes the axis, positive on the side of u x (direction of the ray), which is the
   * side of +v for light that comes straight against w. (0, 0) where nothing crosses.
   */
  readonly centroid: readonly [number, number];
  /** Power-weighted root mean square and largest distance from the centroid. */
  readonly rms: number;
  readonly max: number;
  /** Largest distance from the centroid along u and along v alone. */
  readonly reach: readonly [number, number];
  /** Sunlight the lit mirrors receive, as an area facing the sun, m2: times the beam irradiance it is watts. */
  readonly litArea: number;
  /** Share of that light that never crosses the plane from the front (a tube: never comes by). */
  readonly missed: number;
  /** Longest way of a crossing ray from mirror to receiver. */
  readonly distance: number;
}

/** A place on a mirror and the outline area it stands for, m2. */
export interface GridPoint {
  readonly x: number;
  readonly y: number;
  readonly area: number;
}

const GRID_STEPS = 8;
const GRID_ANGLES = 12;

/** Weights of Simpson's rule on GRID_STEPS equal steps; they sum to 1. */
function simpsonWeight(step: number): number {
  const weight = step === 0 || step === GRID_STEPS ? 1 : step % 2 === 1 ? 4 : 2;
  return weight / (3 * GRID_STEPS);
}

/**
 * A grid over an outline that reaches its very edge, so that the largest errors are seen, with weights that
 * integrate smooth functions well. Rectangle: 9 by 9. Round: 9 rings, even in area, of 12 points.
 */
export function mirrorGrid(outline: Outline): GridPoint[] {
  const points: GridPoint[] = [];
  for (let first = 0; first <= GRID_STEPS; first++) {
    const share = first / GRID_STEPS;
    if (outline.kind === 'rectangle') {
      const { length, width, centre } = outline;
      for (let second = 0; second <= GRID_STEPS; second++) {
        points.push({
          x: centre[0] + (share - 0.5) * length,
          y: centre[1] + (second / GRID_STEPS - 0.5) * width,
          area: length * width * simpsonWeight(first) * simpsonWeight(second),
        });
      }
    } else {
      const inner = (outline.holeDiameter / 2) ** 2;
      const span = (outline.diameter / 2) ** 2 - inner;
      const radius = Math.sqrt(inner + share * span);
      for (let second = 0; second < GRID_ANGLES; second++) {
        const turn = (2 * Math.PI * second) / GRID_ANGLES;
        points.push({
          x: radius * Math.cos(turn),
          y: radius * Math.sin(turn),
          area: (Math.PI * span * simpsonWeight(first)) / GRID_ANGLES,
        });
      }
    }
  }
  return points;
}

/** Where a ray crosses: u, v and the way to there, m. Null where it does not. */
type Crossing = readonly [u: number, v: number, distance: number] | null;

/** @param point @param direction of a ray, receiver frame, unit */
function crossPlane(point: Vec3, direction: Vec3): Crossing {
  if (!(direction[2] < 0 && point[2] > 0)) {
    return null;
  }
  const distance = -point[2] / direction[2];
  return [point[0] + distance * direction[0], point[1] + distance * direction[1], distance];
}

/** @param point @param direction of a ray, receiver frame, unit; the tube's axis is x */
function passAxis(point: Vec3, direction: Vec3): Crossing {
  const sideways = Math.hypot(direction[1], direction[2]);
  const distance = -(point[1] * direction[1] + point[2] * direction[2]) / sideways ** 2;
  if (!(distance > 0)) {
    return null;
  }
  // x cross direction = (0, -dz, dy).
  const offset = (point[2] * direction[1] - point[1] * direction[2]) / sideways;
  return [point[0] + distance * direction[0], offset, distance];
}

/** The frame `inner` as seen from `outer`; both are given in the world. */
function seenFrom(outer: Frame, inner: Frame): Frame {
  return {
    origin: pointToLocal(outer, inner.origin),
    x: directionToLocal(outer, inner.x),
    y: directionToLocal(outer, inner.y),
    z: directionToLocal(outer, inner.z),
  };
}

/** The home facets of each receiver, both in the field's order; one pass over the field, however many receivers it has. */
export function facetsByReceiver(field: Field): readonly (readonly PlacedFacet[])[] {
  const lists: PlacedFacet[][] = field.receivers.map(() => []);
  for (const facet of field.facets) lists[facet.receiver].push(facet);
  return lists;
}

/**
 * Mirrors the sun's centre in a grid on each home facet of a receiver and finds where the rays cross it. Weights:
 * n.s times the surface element, so that the centroid is that of the power. Shading and blocking are left out.
 * @param facets home facets of the receiver, `facetsByReceiver`
 * @param sunDirection unit, towards the sun
 */
export function idealCrossings(
  receiver: PlacedReceiver,
  facets: readonly PlacedFacet[],
  sunDirection: Vec3,
): Crossings {
  const cross = receiver.design.kind === 'tube' ? passAxis : crossPlane;
  const us: number[] = [];
  const vs: number[] = [];
  const powers: number[] = [];
  let litArea = 0;
  let distance = 0;
  for (const { frame, outline, shape } of facets) {
    const sun = directionToLocal(frame, sunDirection);
    const seen = seenFrom(receiver.frame, frame);
    for (const { x, y, area } of mirrorGrid(outline)) {
      // N = (-hx, -hy, 1) is the normal times the surface element: N . s needs no more weight, and
      // r = 2 (s . N) N / (N . N) - s.
      const [slopeX, slopeY] = surfaceGradient(shape, x, y);
      const facing = -slopeX * sun[0] - slopeY * sun[1] + sun[2];
      if (!(facing > 0)) {
        continue;
      }
      litArea += facing * area;
      const twice = (2 * facing) / (slopeX * slopeX + slopeY * slopeY + 1);
      const turned: Vec3 = [-slopeX * twice - sun[0], -slopeY * twice - sun[1], twice - sun[2]];
      const crossing = cross(
        pointToParent(seen, [x, y, surfaceHeight(shape, x, y)]),
        directionToParent(seen, turned),
      );
      if (crossing !== null) {
        us.push(crossing[0]);
        vs.push(crossing[1]);
        powers.push(facing * area);
        distance = Math.max(distance, crossing[2]);
      }
    }
  }

  let power = 0;
  let sumU = 0;
  let sumV = 0;
  for (let ray = 0; ray < powers.length; ray++) {
    power += powers[ray];
    sumU += powers[ray] * us[ray];
    sumV += powers[ray] * vs[ray];
  }
  if (power === 0) {
    const missed = litArea > 0 ? 1 : 0;
    return { centroid: [0, 0], rms: 0, max: 0, reach: [0, 0], litArea, missed, distance: 0 };
  }
  const centroid = [sumU / power, sumV / power] as const;
  let sumSquares = 0;
  let max = 0;
  let reachU = 0;
  let reachV = 0;
  for (let ray = 0; ray < powers.length; ray++) {
    const u = us[ray] - centroid[0];
    const v = vs[ray] - centroid[1];
    const square = u * u + v * v;
    sumSquares += powers[ray] * square;
    max = Math.max(max, Math.sqrt(square));
    reachU = Math.max(reachU, Math.abs(u));
    reachV = Math.max(reachV, Math.abs(v));
  }
  return {
    centroid,
    rms: Math.sqrt(sumSquares / power),
    max,
    reach: [reachU, reachV],
    litArea,
    missed: Math.max(0, 1 - power / litArea),
    distance,
  };
}
