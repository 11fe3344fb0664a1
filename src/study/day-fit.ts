/** Tracks for places of which not all can be served. */
import { type FittedTrack, fitTrack } from './track-fit.js';
import type { TrackPoint } from './track-points.js';
import { TRACK_KINDS, type TrackKind } from './track-shape.js';

/** Rounds of a fit in which places that lose much count for less. */
const FIT_ROUNDS = 5;
/** Weights that change by less are settled. */
const SETTLED = 0.02;
/**
 * Three beginnings, of which the track that loses least is taken. The first round goes by the places with that share of the greatest power:
 * by all, or by those about noon, as the form of a far miss outweighs all others. In the rounds a track may reach beyond its
 * places (metres), so that the next ones can come in, or not, so that they are kept out.
 */
const BEGINNINGS = [
  { share: 0, reach: 0.4 },
  { share: 0.6, reach: 0 },
  { share: 0.75, reach: 0.4 },
];
/** A track gives a place up that it cannot come near: it is not made longer for it. */
const GIVEN_UP = 0.9;

/**
 * A track that serves the places it can serve. Losses grow with the square of a miss only while they are small, and end at all there
 * is; so a place counts in each round by what it does not lose yet, which is the slope of a loss 1 - exp(-q) against its form q.
 * What is lost in the end is counted over all places.
 *
 * @returns null for too few places
 * @throws RangeError where all places are in one
 */
export function fittedWhereItPays(kind: TrackKind, points: readonly TrackPoint[]): FittedTrack | null {
  const powers = points.map(({ power_w }) => power_w);
  const most = Math.max(...powers);
  const fits = BEGINNINGS.flatMap(({ share, reach }) =>
    fittedFrom(
      kind,
      points,
      powers.map((power) => (power >= share * most ? 1 : 0)),
      reach,
    ),
  );
  return fits.length === 0 ? null : fits.reduce((a, b) => (b.meanLoss < a.meanLoss ? b : a));
}

function fittedFrom(
  kind: TrackKind,
  points: readonly TrackPoint[],
  first: readonly number[],
  reach: number,
): readonly FittedTrack[] {
  const weighted = (weights: readonly number[], margin_m: number): FittedTrack | null => {
    const own = points.map((point, i) => ({ ...point, hours: point.hours * weights[i] }));
    if (own.filter(({ hours, power_w }) => hours * power_w > 0).length <= TRACK_KINDS.indexOf(kind))
      return null;
    return fitTrack(kind, own, { margin_m });
  };
  let weights = first;
  for (let round = 0; round < FIT_ROUNDS; round++) {
    const fit = weighted(weights, reach);
    if (fit === null) return [];
    const next = fit.losses.map((loss) => (loss > GIVEN_UP ? 0 : 1 - Math.max(0, loss)));
    const change = Math.max(...next.map((weight, i) => Math.abs(weight - weights[i])));
    weights = next;
    if (change < SETTLED) break;
  }
  const fit = weighted(weights, 0);
  if (fit === null) return [];
  const { losses } = fit;
  const ready = fit.ready.map((one, i) => ({
    ...one,
    point: points[i],
    energy: (points[i].power_w * points[i].hours) / 1000,
  }));
  const energy = ready.reduce((sum, one) => sum + one.energy, 0);
  const meanLoss = ready.reduce((sum, one, i) => sum + one.energy * losses[i], 0) / energy;
  return [{ ...fit, ready, meanLoss }];
}
