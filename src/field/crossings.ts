/** Where the light of a faultless build would cross a receiver: no rays drawn by chance, no sunshape, no errors. */
import type { Outline, Vec3 } from '../scene/types.js';
import { directionToLocal, directionToParent, pointToLocal, pointToParent } from './frame.js';
import { surfaceElement, surfaceHeight, surfaceNormal } from './surface.js';
import type { Field, Frame, PlacedReceiver } from './types.js';
import { dot, reflect } from './vector.js';

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

interface Crossing {
  readonly u: number;
  readonly v: number;
  readonly distance: number;
}

/** @param point @param direction of a ray, receiver frame */
function crossPlane(point: Vec3, direction: Vec3): Crossing | null {
  if (!(direction[2] < 0 && point[2] > 0)) {
    return null;
  }
  const distance = -point[2] / direction[2];
  return { u: point[0] + distance * direction[0], v: point[1] + distance * direction[1], distance };
}

/** @param point @param direction of a ray, receiver frame; the tube's axis is x */
function passAxis(point: Vec3, direction: Vec3): Crossing | null {
  const sideways = Math.hypot(direction[1], direction[2]);
  const distance = -(point[1] * direction[1] + point[2] * direction[2]) / sideways ** 2;
  if (!(distance > 0)) {
    return null;
  }
  // x cross direction = (0, -dz, dy).
  const offset = (-point[1] * direction[2] + point[2] * direction[1]) / sideways;
  return { u: point[0] + distance * direction[0], v: offset, distance };
}

interface WeightedCrossing extends Crossing {
  readonly power: number;
}

function crossReceiver(receiver: PlacedReceiver, point: Vec3, direction: Vec3): Crossing | null {
  const localPoint = pointToLocal(receiver.frame, point);
  const localDirection = directionToLocal(receiver.frame, direction);
  return receiver.design.kind === 'tube'
    ? passAxis(localPoint, localDirection)
    : crossPlane(localPoint, localDirection);
}

/** Point on a mirror and the normal there, world frame. */
function mirrorPoint(
  frame: Frame,
  shape: Parameters<typeof surfaceHeight>[0],
  at: GridPoint,
): { point: Vec3; normal: Vec3 } {
  return {
    point: pointToParent(frame, [at.x, at.y, surfaceHeight(shape, at.x, at.y)]),
    normal: directionToParent(frame, surfaceNormal(shape, at.x, at.y)),
  };
}

/**
 * Mirrors the sun's centre in a grid on each home facet of a receiver and finds where the rays cross it. Weights:
 * n.s times the surface element, so that the centroid is that of the power. Shading and blocking are left out.
 * @param receiverIndex index into `field.receivers`
 * @param sunDirection unit, towards the sun
 */
export function idealCrossings(field: Field, receiverIndex: number, sunDirection: Vec3): Crossings {
  const receiver = field.receivers[receiverIndex];
  const crossings: WeightedCrossing[] = [];
  let litArea = 0;
  for (const facet of field.facets) {
    if (facet.receiver !== receiverIndex) {
      continue;
    }
    for (const at of mirrorGrid(facet.outline)) {
      const { point, normal } = mirrorPoint(facet.frame, facet.shape, at);
      const power = dot(normal, sunDirection) * surfaceElement(facet.shape, at.x, at.y) * at.area;
      if (!(power > 0)) {
        continue;
      }
      litArea += power;
      const crossing = crossReceiver(receiver, point, reflect(sunDirection, normal));
      if (crossing !== null) {
        crossings.push({ ...crossing, power });
      }
    }
  }

  let power = 0;
  let sumU = 0;
  let sumV = 0;
  for (const crossing of crossings) {
    power += crossing.power;
    sumU += crossing.power * crossing.u;
    sumV += crossing.power * crossing.v;
  }
  if (power === 0) {
    return {
      centroid: [0, 0],
      rms: 0,
      max: 0,
      reach: [0, 0],
      litArea,
      missed: litArea > 0 ? 1 : 0,
      distance: 0,
    };
  }
  const centroid = [sumU / power, sumV / power] as const;
  let sumSquares = 0;
  let max = 0;
  let reachU = 0;
  let reachV = 0;
  let distance = 0;
  for (const crossing of crossings) {
    const u = crossing.u - centroid[0];
    const v = crossing.v - centroid[1];
    sumSquares += crossing.power * (u ** 2 + v ** 2);
    max = Math.max(max, Math.hypot(u, v));
    reachU = Math.max(reachU, Math.abs(u));
    reachV = Math.max(reachV, Math.abs(v));
    distance = Math.max(distance, crossing.distance);
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
