/** What a track catches of the recorded light of each time, with the receiver where on the track it catches most. */
import { addScaled, dot, subtract } from '../field/vector.js';
import type { Vec3 } from '../scene/types.js';
import { worth } from './catch.js';
import { type Light, smallestOpening } from './light.js';
import type { LossForm } from './loss-form.js';
import { coarseStep } from './placement.js';
import type { ReadyPoint, TrackPoint } from './track-points.js';
import { bestDistance, type Track, trackAt } from './track-shape.js';

/** A place to fit tracks to, with the light of its time. */
export interface LitPoint extends TrackPoint {
  readonly light: Light;
}

/** A point made ready for trying tracks on it. */
export interface LitReady {
  readonly ready: ReadyPoint;
  readonly light: Light;
  /** Hours a year that it stands for, over 1000: from watts to kWh. */
  readonly perWatt: number;
  /** Square of the distance beside the beam. */
  readonly besideBeam: LossForm;
  /** Metres. */
  readonly opening: number;
}

/** Distance along the beam counts for so little beside that across it: only where a track runs along the beam does it settle anything. */
const ALONG_BEAM = 1e-3;

export function litReady(ready: ReadyPoint, { light, hours }: LitPoint): LitReady {
  const { along } = light.beam;
  const entry = (i: number, j: number) => (i === j ? 1 : 0) - (1 - ALONG_BEAM) * along[i] * along[j];
  const besideBeam = [0, 1, 2].map((i) => [entry(i, 0), entry(i, 1), entry(i, 2)]) as unknown as LossForm;
  return { ready, light, perWatt: hours / 1000, besideBeam, opening: smallestOpening(light) };
}

export interface Spot {
  readonly distance: number;
  /** Watts and a trifle, see `worth`; 0 where nothing is caught. */
  readonly watts: number;
}

/** Steps of the climb along the track, in openings. */
const STEPS = [0.5, 0.25, 0.12];
const FINE_STEPS = [0.06, 0.03, 0.015];

/**
 * Where on the track the receiver catches most: climbed to from where the track passes nearest the beam, which is right where the
 * best place is far off, and from where the place's loss form is least, which is right where it is near.
 * @param rays about so many are looked at; null: all
 */
export function spotOn(track: Track, one: LitReady, rays: number | null): Spot {
  const { light, ready, besideBeam, opening } = one;
  const step = rays === null ? 1 : coarseStep(light, rays);
  const wattsAt = (s: number) => worth(light, trackAt(track, s), step);
  let distance = bestDistance(track, ready.point.position, besideBeam);
  let watts = wattsAt(distance);
  const other = bestDistance(track, ready.point.position, ready.metric);
  if (Math.abs(other - distance) > STEPS[1] * opening) {
    const there = wattsAt(other);
    if (there > watts) [distance, watts] = [other, there];
  }
  for (const size of rays === null ? [...STEPS, ...FINE_STEPS] : STEPS) {
    const way = size * opening;
    for (const side of [1, -1]) {
      let moved = false;
      for (;;) {
        const trial = wattsAt(distance + side * way);
        if (!(trial > watts)) break;
        [distance, watts, moved] = [distance + side * way, trial, true];
      }
      if (moved) break;
    }
  }
  return { distance, watts: Math.max(0, watts) };
}

/** kWh a year caught on the track, as long as it need be. */
export function caughtOnTrack(track: Track, points: readonly LitReady[], rays: number | null): number {
  return points.reduce((sum, one) => sum + one.perWatt * spotOn(track, one, rays).watts, 0);
}

/** Coordinates of a place in a track's axes. */
export function coordinatesIn(
  { centre, along, side, up }: { centre: Vec3; along: Vec3; side: Vec3; up: Vec3 },
  place: Vec3,
): Vec3 {
  const away = subtract(place, centre);
  return [dot(away, along), dot(away, side), dot(away, up)];
}

/** Unit steps of a direction per metre along the axes: its slopes; null where it stands across them. */
export function slopesIn(
  { along, side, up }: { along: Vec3; side: Vec3; up: Vec3 },
  direction: Vec3,
): readonly [number, number] | null {
  const forward = dot(direction, along);
  return Math.abs(forward) > 0.05 ? [dot(direction, side) / forward, dot(direction, up) / forward] : null;
}

/** The place of a straight line half way along the axes (u = 0). */
export function crossingIn(
  axes: { centre: Vec3; along: Vec3; side: Vec3; up: Vec3 },
  origin: Vec3,
  direction: Vec3,
): Vec3 {
  const forward = dot(direction, axes.along);
  const [u] = coordinatesIn(axes, origin);
  return coordinatesIn(axes, addScaled(origin, direction, -u / forward));
}
