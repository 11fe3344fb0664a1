/** What a path of receivers is, for whoever builds it: its ends, its length, and the circle or the knee that it has. */
import { addScaled, dot, norm, subtract } from '../field/vector.js';
import type { Vec3 } from '../scene/types.js';
import { type Circle, circleThrough } from './circle.js';
import type { TrackKind } from './track-shape.js';

/** Places along the row, across it to the left of its heading, and up, mm, from where the path's own are counted. */
export interface PathShape {
  /** "given": not fitted, as somebody has drawn it. */
  readonly kind: TrackKind | 'given';
  readonly ends_mm: readonly [Vec3, Vec3];
  /** From end to end along the path. */
  readonly length_mm: number;
  /** Where the two pieces of a knee meet; null for other kinds. */
  readonly knee_mm: Vec3 | null;
  /** Null for what is no arc, or straight. */
  readonly arc: {
    readonly radius_mm: number;
    readonly centre_mm: Vec3;
    /** Unit, at right angles to the plane of the arc. */
    readonly plane_normal: Vec3;
  } | null;
}

/**
 * The circle of an arc, from its ends and its middle.
 * @param path places in order, three or more
 * @returns null where they lie in line
 */
export function circleOfPath(path: readonly Vec3[]): Circle | null {
  return circleThrough(path[0], path[path.length >> 1], path[path.length - 1]);
}

/** Length of the way from place to place. */
export function pathLength(path: readonly Vec3[]): number {
  return path.slice(1).reduce((sum, place, i) => sum + norm(subtract(place, path[i])), 0);
}

/** The place farthest from the line between the ends. */
function kneeOf(path: readonly Vec3[]): Vec3 {
  const [first] = path;
  const chord = subtract(path[path.length - 1], first);
  const square = dot(chord, chord);
  const off = path.map((place) => {
    const way = subtract(place, first);
    return norm(addScaled(way, chord, square > 0 ? -dot(way, chord) / square : 0));
  });
  return path[off.indexOf(Math.max(...off))];
}

/**
 * @param path places in order, mm, two or more
 * @param fitted kind of the track that it is of; null where it was given
 */
export function pathShape(path: readonly Vec3[], fitted: TrackKind | null): PathShape {
  const circle = fitted === 'arc' && path.length > 2 ? circleOfPath(path) : null;
  return {
    kind: fitted ?? 'given',
    ends_mm: [path[0], path[path.length - 1]],
    length_mm: pathLength(path),
    knee_mm: fitted === 'knee' && path.length > 2 ? kneeOf(path) : null,
    arc:
      circle === null
        ? null
        : { radius_mm: circle.radius, centre_mm: circle.centre, plane_normal: circle.normal },
  };
}
