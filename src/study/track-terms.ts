/** A fitted track in a builder's terms: end points, tilt, radius, sag, knee, each with its error. */
import { angleBetween, dot, norm, subtract } from '../field/vector.js';
import type { Figure } from '../result/types.js';
import { studentT975 } from '../run/statistics.js';
import type { Vec3 } from '../scene/types.js';
import { type FittedTrack, missOf } from './track-fit.js';
import { type Track, trackAt } from './track-shape.js';

/** Row frame: x along the row, y across it, z up. Keys end in the unit. */
export type TrackTerms = Readonly<Record<string, Figure>>;

const DEGREES = 180 / Math.PI;

/** Straighter than this (1/m) has no radius worth a number: 1000 km. */
const STRAIGHT = 1e-6;

function placeTerms(name: string, [x, y, z]: Vec3): Record<string, number> {
  return { [`${name}_x_m`]: x, [`${name}_y_m`]: y, [`${name}_z_m`]: z };
}

/** Slope against level, and turn from the row's axis seen from above (anticlockwise), of the straight line between two places. */
function slopeTerms(prefix: string, from: Vec3, to: Vec3): Record<string, number> {
  const [x, y, z] = subtract(to, from);
  return {
    [`${prefix}tilt_deg`]: Math.atan2(z, Math.hypot(x, y)) * DEGREES,
    [`${prefix}turn_deg`]: Math.atan2(y, x) * DEGREES,
  };
}

type Piece = Pick<FittedTrack, 'track' | 'from' | 'to'>;

function arcTerms(
  track: Extract<Track, { kind: 'arc' }>,
  start: Vec3,
  end: Vec3,
  length: number,
): Record<string, number> {
  const curvature = norm(track.bend);
  const quarter = (curvature * length) / 4;
  const middle = length / 2;
  const chord = norm(subtract(end, start));
  const terms: Record<string, number> = {
    chord_m: chord,
    // 1 - cos(angle/2) = 2 sin^2(angle/4), so that a straight arc has a sag of 0 and not of rounding.
    sag_mm: curvature === 0 ? 0 : ((2 * Math.sin(quarter) ** 2) / curvature) * 1000,
    bend_per_m: curvature,
  };
  if (curvature < STRAIGHT || middle === 0) return terms;
  return {
    ...terms,
    radius_m: 1 / curvature,
    ...sagTerms(track, start, end),
  };
}

/** Which way the arc bulges: its middle seen from the chord's, 0 straight up, 180 straight down, to +y or -y between. */
function sagTerms(track: Extract<Track, { kind: 'arc' }>, start: Vec3, end: Vec3): Record<string, number> {
  const chord = subtract(end, start);
  const centre: Vec3 = track.origin.map(
    (value, i) => value + track.bend[i] / dot(track.bend, track.bend),
  ) as unknown as Vec3;
  const half: Vec3 = start.map((value, i) => (value + end[i]) / 2 - centre[i]) as unknown as Vec3;
  const along = norm(chord) > 0 ? dot(half, chord) / dot(chord, chord) : 0;
  const out = subtract(half, chord.map((value) => value * along) as unknown as Vec3);
  return { bulge_from_up_deg: Math.atan2(Math.abs(out[1]), out[2]) * Math.sign(out[1] || 1) * DEGREES };
}

/** The plain numbers of a piece of track. */
function termsOf({ track, from, to }: Piece): Record<string, number> {
  const start = trackAt(track, from);
  const end = trackAt(track, to);
  const length = to - from;
  const ends = { ...placeTerms('start', start), ...placeTerms('end', end), length_m: length };
  switch (track.kind) {
    case 'level':
      return ends;
    case 'tilted':
      return { ...ends, ...slopeTerms('', start, end) };
    case 'arc':
      return {
        ...ends,
        ...placeTerms('middle', trackAt(track, (from + to) / 2)),
        ...slopeTerms('chord_', start, end),
        ...arcTerms(track, start, end, length),
      };
    case 'knee':
      return {
        ...ends,
        ...placeTerms('knee', track.origin),
        knee_from_start_m: -from,
        ...slopeTerms('first_', start, track.origin),
        ...slopeTerms('second_', track.origin, end),
        knee_bend_deg: angleBetween(track.before, track.direction) * DEGREES,
      };
  }
}

const UNITS: readonly (readonly [string, string])[] = [
  ['_per_m', '1/m'],
  ['_mm', 'mm'],
  ['_deg', 'deg'],
  ['_m', 'm'],
];

function unitOf(key: string): string {
  return UNITS.find(([ending]) => key.endsWith(ending))?.[1] ?? '1';
}

/** Smaller than any error that matters, larger than rounding; parameters are metres and slopes. */
const STEP = 1e-6;

/** Variance along one axis, m2, of the points about the track; across it only, for along it every point has its place. */
function scatterOf(fit: FittedTrack): number {
  const squares = fit.ready.reduce((sum, { energy }, i) => {
    const miss = missOf(fit, i);
    return energy > 0 ? sum + dot(miss, miss) : sum;
  }, 0);
  return squares / fit.freedom;
}

/** Change of every term with one thing moved a little to both sides, per unit. */
function slopesOf(after: Record<string, number>, before: Record<string, number>): Record<string, number> {
  const entries = Object.keys(after).map((key): [string, number] => {
    const change = after[key] - before[key];
    // A turn that passes 180 degrees has not changed by 360.
    const turned =
      unitOf(key) === 'deg' && Math.abs(change) > 180 ? change - 360 * Math.sign(change) : change;
    return [key, turned / (2 * STEP)];
  });
  return Object.fromEntries(entries);
}

/**
 * The track in terms a builder can mark out, with errors to first order: those of the track's parameters, and of the two outermost
 * points along the track, whose scatter along it is taken to be what the points show across it.
 */
export function trackTerms(fit: FittedTrack): TrackTerms {
  const { track, from, to, parameters, covariance, freedom, withParameters } = fit;
  const plain = termsOf(fit);
  const slopes = parameters.map((_, i) => {
    const at = (step: number) =>
      termsOf(withParameters(parameters.map((value, j) => (j === i ? value + step : value))));
    return slopesOf(at(STEP), at(-STEP));
  });
  const ends = [
    slopesOf(termsOf({ track, from: from + STEP, to }), termsOf({ track, from: from - STEP, to })),
    slopesOf(termsOf({ track, from, to: to + STEP }), termsOf({ track, from, to: to - STEP })),
  ];
  const scatter = covariance ? scatterOf(fit) : 0;
  const entries = Object.entries(plain).map(([key, value]): [string, Figure] => {
    let variance = covariance
      ? scatter * ends.reduce((sum, slope) => sum + slope[key] ** 2, 0)
      : Number.POSITIVE_INFINITY;
    covariance?.forEach((row, i) => {
      row.forEach((c, j) => {
        variance += slopes[i][key] * c * slopes[j][key];
      });
    });
    const std_err = Number.isNaN(variance) ? Number.POSITIVE_INFINITY : Math.sqrt(Math.max(0, variance));
    const half = Number.isFinite(std_err) ? studentT975(Math.max(1, freedom)) * std_err : std_err;
    return [key, { value, std_err, ci95: [value - half, value + half], unit: unitOf(key) }];
  });
  return Object.fromEntries(entries);
}
