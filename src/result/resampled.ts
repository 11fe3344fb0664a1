/** Figures from slots of batches: value from all, error from leaving out one slot at a time. */
import { jackknife, NORMAL_975, studentT975, wilsonInterval } from '../run/statistics.js';
import type { Figure } from './types.js';

/** A quantity and its leave-one-out values; fewer than two slots give none. */
export interface Resampled {
  readonly value: number;
  /** Entry j: the quantity with slot j left out. Empty for a single slot. */
  readonly replicates: Float64Array;
}

/** Tallies of the slots with what all figures need of them. */
export interface SlotSums {
  readonly slots: readonly Float64Array[];
  readonly batchesPerSlot: number;
  /** Sum over the slots. */
  readonly sum: Float64Array;
}

/** Reads one place of a tally, as the mean of full-power estimates (watts) or, for ray counts, rays per batch. */
export type TallyReader = (offset: number) => number;

/** @throws RangeError where there is no slot: nothing was traced to its end */
export function sumSlots(slots: readonly Float64Array[], batchesPerSlot: number): SlotSums {
  if (slots.length === 0)
    throw new RangeError('no batch was traced to its end, so there is nothing to report');
  const sum = new Float64Array(slots[0].length);
  addSlots(sum, slots, 0);
  return { slots, batchesPerSlot, sum };
}

/**
 * Adds the same stretch of all slots to `sum`, from the first slot to the last: `sum.length` numbers from `offset` on. Four slots
 * at a time, so that a sum is fetched and put back a quarter as often; it grows in the same order.
 */
export function addSlots(sum: Float64Array, slots: readonly Float64Array[], offset: number): void {
  let j = 0;
  for (; j + 4 <= slots.length; j += 4) {
    addFour(sum, slots[j], slots[j + 1], slots[j + 2], slots[j + 3], offset);
  }
  for (; j < slots.length; j++) addOne(sum, slots[j], offset);
}

function addOne(sum: Float64Array, slot: Float64Array, offset: number): void {
  for (let i = 0; i < sum.length; i++) sum[i] += slot[offset + i];
}

function addFour(
  sum: Float64Array,
  a: Float64Array,
  b: Float64Array,
  c: Float64Array,
  d: Float64Array,
  offset: number,
): void {
  for (let i = 0; i < sum.length; i++) {
    sum[i] = sum[i] + a[offset + i] + b[offset + i] + c[offset + i] + d[offset + i];
  }
}

/** Evaluates `quantity` on the mean tally and on each mean tally with one slot left out. */
export function resample(sums: SlotSums, quantity: (read: TallyReader, slot: number) => number): Resampled {
  const { slots, batchesPerSlot, sum } = sums;
  const count = slots.length;
  const all = 1 / (count * batchesPerSlot);
  const value = quantity((offset) => sum[offset] * all, -1);
  if (count < 2) return { value, replicates: new Float64Array(0) };
  const others = 1 / ((count - 1) * batchesPerSlot);
  const replicates = new Float64Array(count);
  for (let j = 0; j < count; j++) {
    const slot = slots[j];
    replicates[j] = quantity((offset) => (sum[offset] - slot[offset]) * others, j);
  }
  return { value, replicates };
}

/** Replicates of a plain mean of independent readings, one per slot. */
export function resampledMean(readings: Float64Array): Resampled {
  const count = readings.length;
  let total = 0;
  for (const reading of readings) total += reading;
  return { value: total / count, replicates: readings.map((reading) => (total - reading) / (count - 1)) };
}

/** The same quantity in another unit or over another base. */
export function scaleResampled(quantity: Resampled, factor: number): Resampled {
  return { value: quantity.value * factor, replicates: quantity.replicates.map((entry) => entry * factor) };
}

/** What a figure may be, and its standard error where a single slot leaves none to be had from the spread. */
export interface FigureBounds {
  readonly min?: number;
  readonly max?: number;
  readonly singleSlotError: number;
  /** The spread of the slots counts for no less than this: see `latticeError`. */
  readonly leastSpread?: number;
  /** A further error that the spread of the replicates does not show, added in quadrature. */
  readonly furtherError?: number;
  /**
   * A further error that can only have made the value too low, as a root mean square. Its variance lies upwards: twice of it is in
   * the upper end of the interval, none in the lower, and once in the standard error.
   */
  readonly errorUpwards?: number;
}

/** A figure with its jackknife error and Student t interval, kept within what the figure can be. */
export function figureOf(quantity: Resampled, unit: string, bounds: FigureBounds): Figure {
  const { value, replicates } = quantity;
  const single = replicates.length < 2;
  const spread = single
    ? bounds.singleSlotError
    : Math.max(jackknife(replicates, value).std_err, bounds.leastSpread ?? 0);
  const evenly = Math.hypot(spread, bounds.furtherError ?? 0);
  const upwards = bounds.errorUpwards ?? 0;
  const error = Math.hypot(evenly, upwards);
  const t = single ? NORMAL_975 : studentT975(replicates.length - 1);
  const low = Math.max(value - t * evenly, bounds.min ?? Number.NEGATIVE_INFINITY);
  const high = Math.min(
    value + t * Math.hypot(evenly, Math.SQRT2 * upwards),
    bounds.max ?? Number.POSITIVE_INFINITY,
  );
  // Rounding may carry a value past its bound by the last digit; the interval must still hold it.
  return { value, std_err: error, ci95: [Math.min(low, value), Math.max(high, value)], unit };
}

/** Fewer rays than this on either side, and the spread of slot values says too little: the ray counts must speak. */
export const FEW_RAYS = 10;

/**
 * Least standard error, in rays, of a number of rays that lie inside some limit.
 *
 * Where being inside hangs on one dimension of the lattice alone (the share of a sunshape within an angle), a lattice of N
 * points counts N x share, rounded up or down by its shift. With a share near a whole number all batches may count the
 * same, so that their spread is 0 while the count is off by a part of a ray in each. So each lattice is taken to be no
 * better known than a number rounded to whole rays: variance 1/12. Lattices that have no ray inside, or none outside,
 * have rounded nothing: there are at most as many others as rays on the rarer side. Where more than one dimension counts,
 * the spread is wider than this and the floor does nothing.
 *
 * @param lattices facets traced x batches
 */
export function latticeError(inside: number, outside: number, lattices: number): number {
  return Math.sqrt(Math.max(0, Math.min(lattices, inside, outside)) / 12);
}

/**
 * Standard error, in rays, that is added in quadrature to every count: z/2. Of a count n that is not far above 0 the spread
 * sqrt(n) is itself in doubt: low counts come with low errors, so that n +- z sqrt(n) holds the truth too seldom. Wilson's
 * interval has z sqrt(n + z^2/4) instead (see `wilsonInterval`). From 50 rays of error on it changes nothing one can see.
 */
export const COUNT_ERROR = NORMAL_975 / 2;

/**
 * A share of `rays` rays. With few rays inside or outside, the interval is Wilson's on the ray counts; no ray inside (or
 * outside) makes the value a bound.
 * @param hits rays inside
 * @param rays all rays the share is of
 * @param lattices that these rays come from: facets x batches
 */
export function shareFigure(quantity: Resampled, hits: number, rays: number, lattices: number): Figure {
  const { value } = quantity;
  if (rays === 0) return { value: 0, std_err: 0, ci95: [0, 1], unit: '1', limit: 'upper' };
  const spread = figureOf(quantity, '1', {
    min: 0,
    max: 1,
    singleSlotError: shareError(value, rays),
    leastSpread: latticeError(hits, rays - hits, lattices) / rays,
    furtherError: COUNT_ERROR / rays,
  });
  if (Math.min(hits, rays - hits) >= FEW_RAYS) return spread;
  const [low, high] = wilsonInterval(hits, rays);
  const ci95: [number, number] = [Math.min(low, value), Math.max(high, value)];
  const figure = { value, std_err: (high - low) / (2 * NORMAL_975), ci95, unit: '1' };
  if (hits === 0) return { ...figure, limit: 'upper' };
  return hits === rays ? { ...figure, limit: 'lower' } : figure;
}

/** Binomial standard error of a share of `rays` rays; never 0. */
export function shareError(share: number, rays: number): number {
  if (rays === 0) return 0;
  const [low, high] = wilsonInterval(Math.min(1, Math.max(0, share)) * rays, rays);
  return (high - low) / (2 * NORMAL_975);
}

/**
 * Power carried by `hits` of `rays` rays. With few hits the interval is Wilson's on the counts, at the mean power of the
 * hits or, where there are none, at `rayPower`.
 * @param rayPower most a ray can carry on average: launched power / rays, W
 * @param limited what the hits are counted against; null where every ray can be a hit, so that the power is a smooth mean and
 *   nothing is counted
 */
export function powerFigure(
  quantity: Resampled,
  hits: number,
  rays: number,
  rayPower: number,
  limited: { readonly misses: number; readonly lattices: number } | null,
): Figure {
  const { value } = quantity;
  if (rays === 0) return { value, std_err: 0, ci95: [value, value], unit: 'W' };
  const perHit = hits > 0 ? value / hits : rayPower;
  const countError = perHit * rays * shareError(hits / rays, rays);
  if (hits >= FEW_RAYS) {
    const bounds = { min: 0, singleSlotError: countError };
    if (limited === null) return figureOf(quantity, 'W', bounds);
    return figureOf(quantity, 'W', {
      ...bounds,
      leastSpread: perHit * latticeError(hits, limited.misses, limited.lattices),
      furtherError: perHit * COUNT_ERROR,
    });
  }
  const [low, high] = wilsonInterval(hits, rays);
  const ci95: [number, number] = [perHit * low * rays, perHit * high * rays];
  const figure = { value, std_err: countError, ci95, unit: 'W' };
  return hits === 0 ? { ...figure, limit: 'upper' } : figure;
}

/** A figure times a known factor. */
export function scaleFigure(figure: Figure, factor: number, unit: string): Figure {
  return {
    ...figure,
    value: figure.value * factor,
    std_err: figure.std_err * factor,
    ci95: [figure.ci95[0] * factor, figure.ci95[1] * factor],
    unit,
  };
}

/** A figure that is known without sampling. */
export function exactFigure(value: number, unit: string): Figure {
  return { value, std_err: 0, ci95: [value, value], unit };
}
