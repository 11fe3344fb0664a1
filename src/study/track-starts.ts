/** Tracks to try before any is climbed from: through places by twos and threes, and on a grid of heights. */
import type { Vec3 } from '../scene/types.js';
import { coordinatesIn, crossingIn, slopesIn } from './track-light.js';
import type { Fitting } from './track-points.js';
import { type Track, type TrackKind, trackAt } from './track-shape.js';

type Parameters = readonly number[];

/** Places that tracks are laid through, evenly picked along the track. */
const PLACES = 9;
/** Steps of the grid for level tracks, across and up, and how far it reaches beyond the places, m. */
const GRID = [7, 13] as const;
const GRID_MARGIN = 0.1;

function evenlyPicked(places: readonly Vec3[]): readonly Vec3[] {
  const sorted = [...places].sort((a, b) => a[0] - b[0]);
  if (sorted.length <= PLACES) return sorted;
  return Array.from(
    { length: PLACES },
    (_, i) => sorted[Math.round((i * (sorted.length - 1)) / (PLACES - 1))],
  );
}

function gridOf(places: readonly Vec3[], axis: 1 | 2): readonly number[] {
  const values = places.map((place) => place[axis]);
  const low = Math.min(...values) - GRID_MARGIN;
  const high = Math.max(...values) + GRID_MARGIN;
  const count = GRID[axis - 1];
  return Array.from({ length: count }, (_, i) => low + ((high - low) * i) / (count - 1));
}

/** All twos or threes of places that lie apart along the track. */
function groupsOf(places: readonly Vec3[], size: 2 | 3): readonly (readonly Vec3[])[] {
  const apart = (a: Vec3, b: Vec3) => b[0] - a[0] > 1e-3;
  return places.flatMap((a, i): (readonly Vec3[])[] =>
    places.slice(i + 1).flatMap((b, j): (readonly Vec3[])[] => {
      if (!apart(a, b)) return [];
      if (size === 2) return [[a, b]];
      return places.slice(i + j + 2).flatMap((c) => (apart(b, c) ? [[a, b, c]] : []));
    }),
  );
}

function slopeOf(a: Vec3, b: Vec3, axis: 1 | 2): number {
  return (b[axis] - a[axis]) / (b[0] - a[0]);
}

/** Values at -half, 0 and half along of the parabola through three places. */
function arcBy([a, b, c]: readonly Vec3[], half: number): Parameters {
  const at = (u: number, axis: 1 | 2) => {
    const first = slopeOf(a, b, axis);
    const bend = (slopeOf(b, c, axis) - first) / (c[0] - a[0]);
    return a[axis] + first * (u - a[0]) + bend * (u - a[0]) * (u - b[0]);
  };
  return [-half, 0, half].flatMap((u) => [at(u, 1), at(u, 2)]);
}

/** Parameters of tracks laid through the places themselves, in the order of `trackOf`. */
export function startsThroughPlaces(
  kind: TrackKind,
  { basis, half }: Fitting,
  positions: readonly Vec3[],
): readonly Parameters[] {
  const all = positions.map((place) => coordinatesIn(basis, place));
  if (kind === 'level') return gridOf(all, 1).flatMap((v) => gridOf(all, 2).map((w) => [v, w]));
  const places = evenlyPicked(all);
  if (kind === 'tilted') {
    return groupsOf(places, 2).map(([a, b]) => {
      const [dv, dw] = [slopeOf(a, b, 1), slopeOf(a, b, 2)];
      return [a[1] - dv * a[0], a[2] - dw * a[0], dv, dw];
    });
  }
  const threes = groupsOf(places, 3);
  if (kind === 'arc') return threes.map((three) => arcBy(three, half));
  return threes.map(([a, b, c]) => [
    ...b,
    slopeOf(a, b, 1),
    slopeOf(a, b, 2),
    slopeOf(b, c, 1),
    slopeOf(b, c, 2),
  ]);
}

/**
 * A track of the same or a simpler kind in other axes; an arc by the parabola through its ends and middle.
 * @returns null where it stands across the axes
 */
export function startFrom(
  kind: TrackKind,
  { basis, half }: Fitting,
  { track, from, to }: { readonly track: Track; readonly from: number; readonly to: number },
): Parameters | null {
  if (track.kind === 'arc') {
    const three = [from, (from + to) / 2, to].map((s) => coordinatesIn(basis, trackAt(track, s)));
    three.sort((a, b) => a[0] - b[0]);
    const apart = three[1][0] - three[0][0] > 1e-3 && three[2][0] - three[1][0] > 1e-3;
    if (!apart) return null;
    if (kind === 'arc') return arcBy(three, half);
    const [a, b, c] = three;
    return [...b, slopeOf(a, b, 1), slopeOf(a, b, 2), slopeOf(b, c, 1), slopeOf(b, c, 2)];
  }
  const slopes = slopesIn(basis, track.direction);
  if (slopes === null) return null;
  if (track.kind === 'knee') {
    const before = slopesIn(basis, track.before);
    return before === null ? null : [...coordinatesIn(basis, track.origin), ...before, ...slopes];
  }
  const [, v, w] = crossingIn(basis, track.origin, track.direction);
  if (kind === 'level') return [v, w];
  if (kind === 'tilted') return [v, w, ...slopes];
  if (kind === 'knee') return [0, v, w, ...slopes, ...slopes];
  return [-half, 0, half].flatMap((u) => [v + slopes[0] * u, w + slopes[1] * u]);
}
