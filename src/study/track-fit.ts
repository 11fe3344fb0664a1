/**
 * Tracks that can be built, fitted to the best places of a receiver so that the least energy is lost. At every moment the
 * receiver stands where on the track it loses least; the track's few numbers are found by least squares on the losses.
 */
import { dot, subtract } from '../field/vector.js';
import type { Vec3 } from '../scene/types.js';
import {
  covarianceOf,
  type LeastSquares,
  leastSquares,
  type Matrix,
  solveSymmetric,
} from './least-squares.js';
import { lossOfOffset } from './loss-form.js';
import { simplexDescent } from './simplex-descent.js';
import {
  type Fitting,
  fittingOf,
  putResiduals,
  type ReadyPoint,
  readyPoints,
  type TrackPoint,
} from './track-points.js';
import { bestDistance, TRACK_KINDS, type Track, type TrackKind, trackAt, trackOf } from './track-shape.js';

export interface TrackOptions {
  /** Step for the loss forms of points that give only a loss to try, mm; 5 where not given. About the misses to expect. */
  readonly formStep_mm?: number;
  /**
   * After the forms' least squares, seek the least true loss of the points that give one to try. Costs some hundreds of tries
   * a point; worth it where the track misses by so much that the forms no longer hold.
   */
  readonly polish?: boolean;
  /** Length beyond the outermost places at each end, m; 0 where not given. */
  readonly margin_m?: number;
}

/** A track with its ends and what its numbers are uncertain by. */
export interface FittedTrack {
  readonly kind: TrackKind;
  readonly track: Track;
  /** Ends by the track's own distance, m. */
  readonly from: number;
  readonly to: number;
  /** One per point, in the order given: distance of the receiver on the track, within the ends. */
  readonly distances: readonly number[];
  /** One per point: share of the power lost there against standing at the best place. */
  readonly losses: readonly number[];
  /** Lost kWh a year over all kWh a year. */
  readonly meanLoss: number;
  readonly ready: readonly ReadyPoint[];
  readonly parameters: readonly number[];
  /** Of the parameters, from the points' scatter about the track; null where it cannot be told. */
  readonly covariance: Matrix | null;
  /** Readings beyond the parameters: two for every point with weight. */
  readonly freedom: number;
  /** The track of other parameters, with its ends: for errors of what is worked out from it. */
  readonly withParameters: (parameters: readonly number[]) => Pick<FittedTrack, 'track' | 'from' | 'to'>;
  readonly converged: boolean;
}

/** Coordinates of the points with weight in the fitting's axes. */
function coordinatesOf({ basis }: Fitting, used: readonly ReadyPoint[]): readonly Vec3[] {
  return used.map(({ point }) => {
    const away = subtract(point.position, basis.centre);
    return [dot(away, basis.along), dot(away, basis.side), dot(away, basis.up)];
  });
}

interface Start {
  /** Coefficients of v and w. */
  readonly v: readonly number[];
  readonly w: readonly number[];
  readonly squares: number;
}

/** Plain least squares of v and w by given functions of u, weighted by energy: somewhere to start from. */
function linearStart(
  places: readonly Vec3[],
  weights: readonly number[],
  functions: (u: number) => readonly number[],
): Start | null {
  const rows = places.map(([u]) => functions(u));
  const normal = rows[0].map((_, i) =>
    rows[0].map((__, j) => rows.reduce((sum, row, k) => sum + weights[k] * row[i] * row[j], 0)),
  );
  const largest = Math.max(...normal.map((row, i) => row[i]));
  const firm = normal.map((row, i) => row.map((value, j) => (i === j ? value + 1e-12 * largest : value)));
  const coefficients = (axis: 1 | 2) =>
    solveSymmetric(
      firm,
      firm.map((_, i) => rows.reduce((sum, row, k) => sum + weights[k] * row[i] * places[k][axis], 0)),
    );
  const [v, w] = [coefficients(1), coefficients(2)];
  if (!v || !w) return null;
  const value = (c: readonly number[], row: readonly number[]) =>
    c.reduce((sum, one, i) => sum + one * row[i], 0);
  const squares = places.reduce(
    (sum, [, pv, pw], k) =>
      sum + weights[k] * ((pv - value(v, rows[k])) ** 2 + (pw - value(w, rows[k])) ** 2),
    0,
  );
  return { v, w, squares };
}

/** Places of the knee that are tried, over the length of the points. */
const KNEES = 40;

function kneeStarts(
  places: readonly Vec3[],
  weights: readonly number[],
  half: number,
): readonly (readonly number[])[] {
  const tried: { readonly squares: number; readonly parameters: readonly number[] }[] = [];
  for (let i = 1; i < KNEES; i++) {
    const knee = half * (-1 + (2 * i) / KNEES);
    const start = linearStart(places, weights, (u) => [1, Math.min(0, u - knee), Math.max(0, u - knee)]);
    if (!start) continue;
    const { v, w, squares } = start;
    tried.push({ squares, parameters: [knee, v[0], w[0], v[1], w[1], v[2], w[2]] });
  }
  tried.sort((a, b) => a.squares - b.squares);
  return tried.slice(0, 3).map(({ parameters }) => parameters);
}

/** Parameters to start from, in the order of `trackOf`; of several the best end is taken. */
function startsOf(
  kind: TrackKind,
  fitting: Fitting,
  used: readonly ReadyPoint[],
): readonly (readonly number[])[] {
  const places = coordinatesOf(fitting, used);
  const weights = used.map(({ energy }) => energy);
  const { half } = fitting;
  if (kind === 'knee') return kneeStarts(places, weights, half);
  const degree = { level: 0, tilted: 1, arc: 2 }[kind];
  const start = linearStart(places, weights, (u) =>
    Array.from({ length: degree + 1 }, (_, power) => u ** power),
  );
  if (!start) return [];
  const { v, w } = start;
  if (kind === 'level') return [[v[0], w[0]]];
  if (kind === 'tilted') return [[v[0], w[0], v[1], w[1]]];
  return [[-half, 0, half].flatMap((u) => [v[0] + v[1] * u + v[2] * u * u, w[0] + w[1] * u + w[2] * u * u])];
}

function offsetOf(track: Track, distance: number, { point }: ReadyPoint): Vec3 {
  return subtract(trackAt(track, distance), point.position);
}

/** Share lost at a distance, by the loss to try where there is one. */
export function lossAtDistance(track: Track, distance: number, ready: ReadyPoint): number {
  const offset = offsetOf(track, distance, ready);
  return ready.point.lossAt ? ready.point.lossAt(offset) : lossOfOffset(ready.form, offset);
}

/** Offsets of all points as residuals whose squares sum to the kWh lost, each with its receiver at the least of its form. */
export function residualsOf(track: Track, used: readonly ReadyPoint[]): Float64Array {
  const residuals = new Float64Array(3 * used.length);
  used.forEach((ready, i) => {
    const distance = bestDistance(track, ready.point.position, ready.metric);
    putResiduals(ready, offsetOf(track, distance, ready), residuals, 3 * i);
  });
  return residuals;
}

function bestFit(kind: TrackKind, fitting: Fitting, used: readonly ReadyPoint[]): LeastSquares {
  const { basis, half } = fitting;
  const starts = [...startsOf(kind, fitting, used)];
  if (kind === 'arc' || kind === 'knee')
    starts.push(bentFrom(kind, half, bestFit('tilted', fitting, used).parameters));
  const fits = starts.map((start) =>
    leastSquares((p) => residualsOf(trackOf(kind, basis, half, p), used), start),
  );
  if (fits.length === 0) throw new RangeError(`the points do not determine a track of kind ${kind}`);
  return fits.reduce((a, b) => (b.squares < a.squares ? b : a));
}

/** The best straight track as an arc or a knee: bending it can then only gain. */
function bentFrom(kind: 'arc' | 'knee', half: number, [v, w, dv, dw]: readonly number[]): readonly number[] {
  if (kind === 'knee') return [0, v, w, dv, dw, dv, dw];
  return [-half, 0, half].flatMap((u) => [v + dv * u, w + dw * u]);
}

/** Tries of a polish, and the first step of it: 2 mm, or 2 mm over the length of the track. */
const POLISH_TRIES = 400;
const POLISH_STEP = 0.002;

function polished(
  kind: TrackKind,
  { basis, half }: Fitting,
  used: readonly ReadyPoint[],
  start: readonly number[],
): readonly number[] {
  const lost = (parameters: readonly number[]) => {
    const track = trackOf(kind, basis, half, parameters);
    return used.reduce((sum, ready) => {
      const distance = bestDistance(track, ready.point.position, ready.metric);
      return sum + ready.energy * lossAtDistance(track, distance, ready);
    }, 0);
  };
  const isSlope = (i: number) => (kind === 'tilted' && i >= 2) || (kind === 'knee' && i >= 3);
  const size = start.map((_, i) =>
    isSlope(i) ? POLISH_STEP / half : kind === 'knee' && i === 0 ? half / 20 : POLISH_STEP,
  );
  return simplexDescent(lost, start, size, 1e-3, POLISH_TRIES).parameters;
}

/** Ends that let every point with weight have its place; a knee has both of its pieces. */
function endsOf(
  track: Track,
  used: readonly ReadyPoint[],
  margin: number,
): { readonly from: number; readonly to: number } {
  const places = used.map(({ point, metric }) => bestDistance(track, point.position, metric));
  if (track.kind === 'knee') places.push(0);
  return { from: Math.min(...places) - margin, to: Math.max(...places) + margin };
}

/**
 * The track of one kind that loses least energy, over all points that catch power.
 *
 * Losses are the points' loss forms; a loss to try says what is lost in the end. The error of the track's numbers takes the
 * points' scatter about it for chance; what is left over because the kind does not fit is in it too.
 * @throws RangeError for points or options that make no sense, or too few points for the kind
 */
export function fitTrack(
  kind: TrackKind,
  points: readonly TrackPoint[],
  options: TrackOptions = {},
): FittedTrack {
  const { formStep_mm = 5, polish = false, margin_m = 0 } = options;
  if (!(margin_m >= 0 && Number.isFinite(margin_m)))
    throw new RangeError(`the margin must not be below 0, got ${margin_m}`);
  const ready = readyPoints(points, formStep_mm);
  const fitting = fittingOf(kind, ready);
  const used = ready.filter(({ energy }) => energy > 0);
  const shape = (parameters: readonly number[]) => trackOf(kind, fitting.basis, fitting.half, parameters);
  const best = bestFit(kind, fitting, used);
  const parameters = polish ? polished(kind, fitting, used, best.parameters) : best.parameters;
  const withParameters = (p: readonly number[]) => {
    const track = shape(p);
    return { track, ...endsOf(track, used, margin_m) };
  };
  const { track, from, to } = withParameters(parameters);
  const distances = ready.map(({ point, metric }) =>
    Math.min(to, Math.max(from, bestDistance(track, point.position, metric))),
  );
  const losses = ready.map((one, i) => lossAtDistance(track, distances[i], one));
  const energy = used.reduce((sum, one) => sum + one.energy, 0);
  const freedom = 2 * used.length - parameters.length;
  return {
    kind,
    track,
    from,
    to,
    distances,
    losses,
    meanLoss: losses.reduce((sum, loss, i) => sum + loss * ready[i].energy, 0) / energy,
    ready,
    parameters,
    covariance: covarianceOf(best, 3, 2),
    freedom,
    withParameters,
    converged: best.converged,
  };
}

/**
 * One track of every kind, in the order of `TRACK_KINDS`; kinds with too few points for them are left out.
 * @throws RangeError for points or options that make no sense
 */
export function fitTracks(points: readonly TrackPoint[], options: TrackOptions = {}): readonly FittedTrack[] {
  const enough = points.filter(({ power_w, hours }) => power_w * hours > 0).length;
  return TRACK_KINDS.filter((_, i) => i === 0 || enough > i).map((kind) => fitTrack(kind, points, options));
}

/** From the best place of a point to where the receiver stands, m, row frame. */
export function missOf(fit: FittedTrack, index: number): Vec3 {
  return subtract(trackAt(fit.track, fit.distances[index]), fit.ready[index].point.position);
}
