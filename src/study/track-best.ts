/** Tracks that catch most of the recorded light: what is lost is not taken from a form about the best places, which a far miss leaves. */
import { fittedWhereItPays } from './day-fit.js';
import { covarianceOf } from './least-squares.js';
import { simplexDescent } from './simplex-descent.js';
import { type FittedTrack, lossAtDistance, residualsOf } from './track-fit.js';
import { caughtOnTrack, type LitPoint, type LitReady, litReady, spotOn } from './track-light.js';
import { type Fitting, fittingOf, readyPoints } from './track-points.js';
import { bestDistance, TRACK_KINDS, type Track, type TrackKind, trackOf } from './track-shape.js';
import { startFrom, startsThroughPlaces } from './track-starts.js';

type Parameters = readonly number[];

/** Rays looked at: for the first look at every start, in the first descents, in the last ones, for the last choice. */
const LOOK_RAYS = 300;
const ROUGH_RAYS = 500;
const CLOSE_RAYS = 1500;
const CHOICE_RAYS = 6000;
/** Times that are looked at in the first look, in descents and for the last choice, evenly picked: neighbours tell the same. */
const LOOK_TIMES = 12;
const DESCENT_TIMES = 16;
const CHOICE_TIMES = 40;
/** So many starts are climbed from, and so many of the tracks reached are climbed from again. */
const ROUGH_DESCENTS = 3;
const CLOSE_DESCENTS = 2;
const ROUGH_TRIES = 110;
const CLOSE_TRIES = 100;
/** First steps, m: slopes step so far over half the length. */
const ROUGH_STEP = 0.06;
const CLOSE_STEP = 0.015;
/** A track is not made longer for times that would together add less than this part of what it catches. */
const NOT_WORTH_THE_WAY = 0.0005;
/** Kinds whose best track is a start for the kind. */
const BENT_FROM: Readonly<Record<TrackKind, readonly TrackKind[]>> = {
  level: [],
  tilted: ['level'],
  arc: ['tilted'],
  knee: ['tilted', 'arc'],
};
/** Step for forms of points that give only a loss to try; these points give both. */
const FORM_STEP_MM = 5;

function picked<T>(list: readonly T[], count: number): readonly T[] {
  if (list.length <= count) return list;
  return Array.from({ length: count }, (_, i) => list[Math.round((i * (list.length - 1)) / (count - 1))]);
}

/**
 * For each kind asked for, the track on which the receivers catch most energy; kinds with too few places for them are left out.
 *
 * Starts: the least squares fits, tracks laid through the places by twos and threes, a grid of heights for level ones, and the
 * best tracks of simpler kinds, so that a kind that can do more never catches less.
 *
 * @throws RangeError for points that make no sense, or all in one place
 */
export function bestTracks(kinds: readonly TrackKind[], points: readonly LitPoint[]): readonly FittedTrack[] {
  const found = new Map<TrackKind, FittedTrack | null>();
  const best = (kind: TrackKind): FittedTrack | null => {
    const known = found.get(kind);
    if (known !== undefined) return known;
    const simpler = BENT_FROM[kind].flatMap((one) => best(one) ?? []);
    const own = points.some(({ power_w, hours }) => power_w * hours > 0)
      ? bestOfKind(kind, points, simpler)
      : null;
    found.set(kind, own);
    return own;
  };
  return kinds.flatMap((kind) => best(kind) ?? []);
}

function bestOfKind(
  kind: TrackKind,
  points: readonly LitPoint[],
  simpler: readonly FittedTrack[],
): FittedTrack | null {
  const served = points.filter(({ power_w, hours }) => power_w * hours > 0).length;
  if (served <= TRACK_KINDS.indexOf(kind)) return null;
  const ready = readyPoints(points, FORM_STEP_MM);
  const fitting = fittingOf(kind, ready);
  const all = points.map((point, i) => litReady(ready[i], point));
  const lit = all.filter(({ ready: { energy } }) => energy > 0);
  const fitted = fittedWhereItPays(kind, points);
  const starts = [
    ...simpler.map((track) => startFrom(kind, fitting, track)),
    fitted === null ? null : startFrom(kind, fitting, fitted),
    ...startsThroughPlaces(
      kind,
      fitting,
      lit.map(({ ready: { point } }) => point.position),
    ),
  ].filter((start) => start !== null);
  if (starts.length === 0) return null;
  return withErrors(kind, fitting, all, descended(kind, fitting, lit, starts));
}

/** The best of many starts, looked at with ever more rays. */
function descended(
  kind: TrackKind,
  fitting: Fitting,
  lit: readonly LitReady[],
  starts: readonly Parameters[],
): Parameters {
  const lost = (own: readonly LitReady[], rays: number | null) => (p: Parameters) =>
    -caughtOnTrack(trackOf(kind, fitting.basis, fitting.half, p), own, rays);
  const best = (list: readonly Parameters[], value: (p: Parameters) => number, count: number) =>
    list
      .map((parameters) => ({ parameters, value: value(parameters) }))
      .sort((a, b) => a.value - b.value)
      .slice(0, count)
      .map(({ parameters }) => parameters);
  const sizes = (step: number) => starts[0].map((_, i) => (isSlope(kind, i) ? step / fitting.half : step));
  const times = picked(lit, DESCENT_TIMES);
  const first = best(starts, lost(picked(lit, LOOK_TIMES), LOOK_RAYS), ROUGH_DESCENTS);
  const rough = first.map(
    (p) => simplexDescent(lost(times, ROUGH_RAYS), p, sizes(ROUGH_STEP), 0.05, ROUGH_TRIES).parameters,
  );
  const close = best([...rough, starts[0]], lost(times, CLOSE_RAYS), CLOSE_DESCENTS).map(
    (p) => simplexDescent(lost(times, CLOSE_RAYS), p, sizes(CLOSE_STEP), 0.03, CLOSE_TRIES).parameters,
  );
  return best([...close, starts[0]], lost(picked(lit, CHOICE_TIMES), CHOICE_RAYS), 1)[0];
}

function isSlope(kind: TrackKind, index: number): boolean {
  return (kind === 'tilted' && index >= 2) || (kind === 'knee' && index >= 3);
}

interface Served {
  readonly index: number;
  readonly distance: number;
  readonly kwh: number;
}

/** Ends that leave out, one after another, the outermost times that are not worth the way. */
function endsFor(
  track: Track,
  all: readonly LitReady[],
  spots: readonly { distance: number; watts: number }[],
) {
  const served = all
    .map(({ perWatt }, index) => ({
      index,
      distance: spots[index].distance,
      kwh: perWatt * spots[index].watts,
    }))
    .filter(({ kwh }) => kwh > 0)
    .sort((a, b) => a.distance - b.distance);
  let spare = NOT_WORTH_THE_WAY * served.reduce((sum, { kwh }) => sum + kwh, 0);
  while (served.length > 2) {
    const outer = served[0].kwh < (served.at(-1)?.kwh ?? 0) ? served.shift() : served.pop();
    if (outer === undefined) break;
    spare -= outer.kwh;
    if (spare > 0) continue;
    served.push(outer);
    served.sort((a, b) => a.distance - b.distance);
    break;
  }
  const low: Served | null = served[0] ?? null;
  const high: Served | null = served.at(-1) ?? null;
  // A knee has both of its pieces.
  const knee = track.kind === 'knee' ? [0] : [];
  return {
    low,
    high,
    from: Math.min(low?.distance ?? 0, ...knee),
    to: Math.max(high?.distance ?? 0, ...knee),
  };
}

/** Smaller than any error that matters, larger than rounding; parameters are metres and slopes. */
const STEP = 1e-6;

/** The track with its ends, its losses, and the errors of its numbers from the scatter of the places that it serves. */
function withErrors(
  kind: TrackKind,
  { basis, half }: Fitting,
  all: readonly LitReady[],
  parameters: Parameters,
): FittedTrack {
  const track = trackOf(kind, basis, half, parameters);
  const spots = all.map((one) => spotOn(track, one, null));
  const ends = endsFor(track, all, spots);
  const ready = all.map((one) => one.ready);
  const endAt = (own: Track, end: Served | null, at: number): number => {
    if (end === null || end.distance !== at) return at;
    const { point, metric } = ready[end.index];
    const place = (one: Track) => bestDistance(one, point.position, metric);
    return at + place(own) - place(track);
  };
  const distances = spots.map(({ distance }) => Math.min(ends.to, Math.max(ends.from, distance)));
  const losses = ready.map((one, i) => lossAtDistance(track, distances[i], one));
  const energy = ready.reduce((sum, one) => sum + one.energy, 0);
  const used = ready.flatMap((one, i) => {
    const kept = Math.max(0, 1 - Math.max(0, losses[i]));
    return one.energy > 0 && kept > 0.1 ? [{ ...one, weight: one.weight * Math.sqrt(kept) }] : [];
  });
  const residuals = (p: Parameters) => residualsOf(trackOf(kind, basis, half, p), used);
  const jacobian = parameters.map((_, i) => {
    const at = (step: number) => residuals(parameters.map((value, j) => (j === i ? value + step : value)));
    const [after, before] = [at(STEP), at(-STEP)];
    return after.map((value, k) => (value - before[k]) / (2 * STEP));
  });
  const here = residuals(parameters);
  const squares = here.reduce((sum, value) => sum + value * value, 0);
  return {
    kind,
    track,
    from: ends.from,
    to: ends.to,
    distances,
    losses,
    meanLoss: losses.reduce((sum, loss, i) => sum + loss * ready[i].energy, 0) / energy,
    ready,
    parameters,
    covariance: covarianceOf({ parameters, residuals: here, squares, jacobian, converged: true }, 3, 2),
    freedom: 2 * used.length - parameters.length,
    withParameters: (p) => {
      const own = trackOf(kind, basis, half, p);
      return { track: own, from: endAt(own, ends.low, ends.from), to: endAt(own, ends.high, ends.to) };
    },
    converged: true,
  };
}
