/** Best places of a receiver over days and seasons, checked and made ready for fitting tracks to them. */
import { addScaled, dot, norm, subtract } from '../field/vector.js';
import type { Vec3 } from '../scene/types.js';
import { axesOf, type LossForm, lossFormFrom, MM, rootOf, roundedUp } from './loss-form.js';
import { basisAlong, type TrackBasis, type TrackKind } from './track-shape.js';

/** Where a receiver does best at one moment. Row frame: x along the row, y across, z up, metres. */
export interface TrackPoint {
  /** Names the day; points of one day in a row belong to one run along the track. */
  readonly day: number;
  /** Minutes of the day, by one clock for all points. */
  readonly minute: number;
  readonly position: Vec3;
  /** Power caught there, W. */
  readonly power_w: number;
  /** Hours a year that the point stands for. Power x hours is its weight; a weight of 0 has no say in the track. */
  readonly hours: number;
  /** Share lost per mm2 of offset; one of the two must be there. */
  readonly lossPerMm2?: LossForm;
  /** Share of the power that is lost at an offset in metres. Says what is lost in the end, where it is there. */
  readonly lossAt?: (offset: Vec3) => number;
}

/** A point ready to be fitted to. */
export interface ReadyPoint {
  readonly point: TrackPoint;
  /** kWh a year. */
  readonly energy: number;
  /** Its root, times the mm of a metre: from offsets in metres to residuals. */
  readonly weight: number;
  /** As given, or from trying places. */
  readonly form: LossForm;
  /** The form without noise below 0 and a trifle of plain distance, so that there is one best place on every track. */
  readonly metric: LossForm;
  /** Rows of its root, share per mm2. */
  readonly root: readonly Vec3[];
}

/** Plain distance counts for this part of the mean loss form: settles only what the losses leave open. */
const PLAIN_PART = 1e-9;

function trace(form: LossForm): number {
  return form[0][0] + form[1][1] + form[2][2];
}

function checkPoint(
  { position, power_w, hours, minute, day, lossPerMm2, lossAt }: TrackPoint,
  i: number,
): void {
  const numbers = [...position, power_w, hours, minute, day, ...(lossPerMm2 ?? []).flat()];
  if (!numbers.every(Number.isFinite)) throw new RangeError(`track point ${i}: a number is not finite`);
  if (power_w < 0 || hours < 0) throw new RangeError(`track point ${i}: power and hours must not be below 0`);
  if (!lossPerMm2 && !lossAt) throw new RangeError(`track point ${i}: needs a loss form or a loss to try`);
  if (lossPerMm2) {
    const f = lossPerMm2;
    const off = Math.abs(f[0][1] - f[1][0]) + Math.abs(f[0][2] - f[2][0]) + Math.abs(f[1][2] - f[2][1]);
    if (off > 1e-6 * f.flat().reduce((sum, value) => sum + Math.abs(value), 0)) {
      throw new RangeError(`track point ${i}: the loss form must be symmetric`);
    }
  }
}

/**
 * Checks the points and works out their forms.
 * @param step_mm step for forms of points that give only a loss to try
 * @throws RangeError for a point that makes no sense, with its number, and where none has any weight
 */
export function readyPoints(points: readonly TrackPoint[], step_mm: number): readonly ReadyPoint[] {
  points.forEach(checkPoint);
  const forms = points.map(
    ({ lossPerMm2, lossAt }) => lossPerMm2 ?? lossFormFrom(lossAt as (o: Vec3) => number, step_mm),
  );
  const weighted = points.map(({ power_w, hours }) => (power_w * hours) / 1000);
  if (!weighted.some((energy) => energy > 0)) throw new RangeError('a track needs points that catch power');
  let sum = 0;
  let energy = 0;
  forms.forEach((form, i) => {
    sum += weighted[i] * Math.max(0, trace(form));
    energy += weighted[i];
  });
  const plain = sum > 0 ? (PLAIN_PART * sum) / energy : 1;
  return points.map((point, i) => {
    const metric = roundedUp(forms[i], plain);
    return {
      point,
      energy: weighted[i],
      weight: Math.sqrt(weighted[i]) * MM,
      form: forms[i],
      metric,
      root: rootOf(metric),
    };
  });
}

/** Fewest points with weight that a kind can be fitted to. */
const FEWEST: Readonly<Record<TrackKind, number>> = { level: 1, tilted: 2, arc: 3, knee: 4 };

/** The axes to fit a kind of track in and half the length of the points along them, m. */
export interface Fitting {
  readonly basis: TrackBasis;
  readonly half: number;
}

/**
 * Axes for the points that have weight: the row's for a level track, else the points' own long axis.
 * @throws RangeError for too few points, or points all in one place
 */
export function fittingOf(kind: TrackKind, ready: readonly ReadyPoint[]): Fitting {
  const used = ready.filter(({ energy }) => energy > 0);
  if (used.length < FEWEST[kind]) {
    throw new RangeError(
      `a track of kind ${kind} needs ${FEWEST[kind]} points that catch power, got ${used.length}`,
    );
  }
  const total = used.reduce((sum, { energy }) => sum + energy, 0);
  let mean: Vec3 = [0, 0, 0];
  for (const { point, energy } of used) mean = addScaled(mean, point.position, energy / total);
  if (kind === 'level') return { basis: basisAlong(mean, [1, 0, 0]), half: 1 };
  const away = used.map(({ point }) => subtract(point.position, mean));
  const spread = [0, 1, 2].map((i) =>
    [0, 1, 2].map((j) => away.reduce((sum, a, k) => sum + used[k].energy * a[i] * a[j], 0) / total),
  ) as unknown as LossForm;
  const [longest] = axesOf(spread);
  if (!(longest.value > (1e-9 * (1 + norm(mean))) ** 2))
    throw new RangeError('the points of a track are all in one place');
  // Towards rising x, or y or z where there is no x to speak of.
  const sign = longest.axis.find((part) => Math.abs(part) > 1e-6) ?? 1;
  const along: Vec3 = longest.axis.map((part) => part * Math.sign(sign)) as unknown as Vec3;
  const reach = away.map((a) => dot(a, along));
  const [low, high] = [Math.min(...reach), Math.max(...reach)];
  return { basis: basisAlong(addScaled(mean, along, (low + high) / 2), along), half: (high - low) / 2 };
}

/** Puts the offset of a receiver from its best place as three residuals whose squares sum to the kWh lost. */
export function putResiduals(
  { root, weight }: ReadyPoint,
  [x, y, z]: Vec3,
  residuals: Float64Array,
  first: number,
): void {
  for (let k = 0; k < 3; k++) {
    const row = root[k];
    residuals[first + k] = weight * (row[0] * x + row[1] * y + row[2] * z);
  }
}
