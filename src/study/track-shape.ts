/** Tracks that can be built, as curves by distance. Distances are measured from a place of the track's own, not from its end. */
import { add, addScaled, cross, dot, norm, normalise, scale, subtract } from '../field/vector.js';
import type { Vec3 } from '../scene/types.js';
import { type LossForm, timesForm } from './loss-form.js';

/** level: straight, along the row. tilted: straight. arc: part of a circle in any plane. knee: two straight pieces joined. */
export type TrackKind = 'level' | 'tilted' | 'arc' | 'knee';

export const TRACK_KINDS: readonly TrackKind[] = ['level', 'tilted', 'arc', 'knee'];

/** Row frame, metres; directions are units, towards rising distance. */
export type Track =
  | { readonly kind: 'level' | 'tilted'; readonly origin: Vec3; readonly direction: Vec3 }
  /** `bend`: towards the centre of the circle, as long as 1/radius (1/m); 0 where the arc is straight. */
  | { readonly kind: 'arc'; readonly origin: Vec3; readonly direction: Vec3; readonly bend: Vec3 }
  /** `origin` is the knee; `before` leads to it, `direction` away from it. */
  | { readonly kind: 'knee'; readonly origin: Vec3; readonly before: Vec3; readonly direction: Vec3 };

/** sin(x)/x. */
function sinc(x: number): number {
  return Math.abs(x) < 1e-4 ? 1 - (x * x) / 6 : Math.sin(x) / x;
}

/** Place at a distance, m. */
export function trackAt(track: Track, distance: number): Vec3 {
  const { origin, direction } = track;
  if (track.kind === 'knee') return addScaled(origin, distance < 0 ? track.before : direction, distance);
  if (track.kind !== 'arc') return addScaled(origin, direction, distance);
  const angle = norm(track.bend) * distance;
  // (1 - cos a)/a^2 = sinc(a/2)^2 / 2: good down to a straight arc.
  const rise = 0.5 * distance * distance * sinc(angle / 2) ** 2;
  return addScaled(addScaled(origin, direction, distance * sinc(angle)), track.bend, rise);
}

/** Unit direction towards rising distance. */
export function tangentAt(track: Track, distance: number): Vec3 {
  if (track.kind === 'knee') return distance < 0 ? track.before : track.direction;
  if (track.kind !== 'arc') return track.direction;
  const angle = norm(track.bend) * distance;
  return addScaled(scale(track.direction, Math.cos(angle)), track.bend, distance * sinc(angle));
}

/**
 * The arc through three places; `middle` becomes the origin. By inversion at the middle (a circle through it turns into a straight
 * line), which does not mind places in line.
 */
export function arcThrough(before: Vec3, middle: Vec3, after: Vec3): Track {
  const inverted = (place: Vec3) => {
    const a = subtract(place, middle);
    return scale(a, 1 / dot(a, a));
  };
  const [p, q] = [inverted(before), inverted(after)];
  // The circle's image is the line through p and q, parallel to the tangent at the middle; the far end of the diameter falls on its foot.
  const direction = normalise(subtract(q, p));
  const foot = addScaled(p, direction, -dot(p, direction));
  return { kind: 'arc', origin: middle, direction, bend: scale(foot, 2) };
}

/** o' F o, in the form's own units. */
function formValue(form: LossForm, o: Vec3): number {
  return dot(o, timesForm(form, o));
}

/** Best distance on a straight line. */
function alongLine(origin: Vec3, direction: Vec3, place: Vec3, form: LossForm): number {
  const weighed = timesForm(form, direction);
  return dot(weighed, subtract(place, origin)) / dot(weighed, direction);
}

const NEWTON_STEPS = 30;

/** Best distance on an arc: from the nearest place by length, Newton's steps on the loss, halved where they do not help. */
function alongArc(track: Extract<Track, { kind: 'arc' }>, place: Vec3, form: LossForm): number {
  const { origin, direction, bend } = track;
  const curvature = norm(bend);
  const away = subtract(place, origin);
  const [x, y] = [dot(away, direction), dot(away, bend)];
  let s = curvature === 0 ? x : Math.atan2(curvature * x, 1 - y) / curvature;
  const valueAt = (at: number) => formValue(form, subtract(place, trackAt(track, at)));
  let value = valueAt(s);
  for (let step = 0; step < NEWTON_STEPS; step++) {
    const miss = subtract(place, trackAt(track, s));
    const tangent = tangentAt(track, s);
    const weighed = timesForm(form, miss);
    const flat = formValue(form, tangent);
    const angle = curvature * s;
    const inwards = addScaled(scale(bend, Math.cos(angle)), direction, -curvature * Math.sin(angle));
    const second = flat - dot(weighed, inwards);
    const move = dot(weighed, tangent) / (second > 0.1 * flat ? second : flat);
    let part = 1;
    let next = valueAt(s + move);
    while (next > value && part > 1e-3) {
      part /= 2;
      next = valueAt(s + part * move);
    }
    if (!(next <= value)) break;
    s += part * move;
    value = next;
    if (Math.abs(part * move) < 1e-15) break;
  }
  return s;
}

/**
 * The distance at which a receiver that should stand at `place` loses least.
 * @param form positive along the track; the unit form gives the nearest place
 */
export function bestDistance(track: Track, place: Vec3, form: LossForm): number {
  if (track.kind === 'arc') return alongArc(track, place, form);
  if (track.kind !== 'knee') return alongLine(track.origin, track.direction, place, form);
  const low = Math.min(0, alongLine(track.origin, track.before, place, form));
  const high = Math.max(0, alongLine(track.origin, track.direction, place, form));
  const lossAt = (s: number) => formValue(form, subtract(place, trackAt(track, s)));
  return lossAt(low) < lossAt(high) ? low : high;
}

/**
 * Places along a track as a chain of straight pieces.
 * @param spacing greatest distance between neighbours, m
 * @throws RangeError where the ends do not rise or the spacing is not above 0
 */
export function trackPath(track: Track, from: number, to: number, spacing: number): readonly Vec3[] {
  if (!(to > from && spacing > 0)) throw new RangeError('a path needs rising ends and a spacing above 0');
  const count = Math.max(1, Math.ceil((to - from) / spacing));
  const distances = Array.from({ length: count + 1 }, (_, i) => from + ((to - from) * i) / count);
  if (track.kind === 'knee' && from < 0 && to > 0 && !distances.includes(0)) {
    distances.push(0);
    distances.sort((a, b) => a - b);
  }
  return distances.map((distance) => trackAt(track, distance));
}

/** Axes that fit the points: `along` runs their long way, `up` leans as little as it can. */
export interface TrackBasis {
  readonly centre: Vec3;
  readonly along: Vec3;
  readonly side: Vec3;
  readonly up: Vec3;
}

/** A basis of an `along` direction, which may be upright. */
export function basisAlong(centre: Vec3, along: Vec3): TrackBasis {
  const level = cross([0, 0, 1], along);
  const side = norm(level) > 1e-6 ? normalise(level) : ([0, 1, 0] as const);
  return { centre, along, side, up: cross(along, side) };
}

/** Place of coordinates in a basis. */
export function placeIn({ centre, along, side, up }: TrackBasis, u: number, v: number, w: number): Vec3 {
  return add(centre, addScaled(addScaled(scale(along, u), side, v), up, w));
}

/**
 * The track of a kind's own numbers (see `track-fit.ts`): level v, w; tilted v, w and their slopes; arc v, w at -half, 0 and half
 * along; knee u, v, w of the knee, slopes before, slopes after.
 */
export function trackOf(kind: TrackKind, basis: TrackBasis, half: number, p: readonly number[]): Track {
  const { along, side, up } = basis;
  const sloped = (v: number, w: number): Vec3 => normalise(addScaled(addScaled(along, side, v), up, w));
  switch (kind) {
    case 'level':
      return { kind, origin: placeIn(basis, 0, p[0], p[1]), direction: along };
    case 'tilted':
      return { kind, origin: placeIn(basis, 0, p[0], p[1]), direction: sloped(p[2], p[3]) };
    case 'arc':
      return arcThrough(
        placeIn(basis, -half, p[0], p[1]),
        placeIn(basis, 0, p[2], p[3]),
        placeIn(basis, half, p[4], p[5]),
      );
    case 'knee':
      return {
        kind,
        origin: placeIn(basis, p[0], p[1], p[2]),
        before: sloped(p[3], p[4]),
        direction: sloped(p[5], p[6]),
      };
  }
}
