/** Light enclosed by growing openings: curves and the size that holds a wanted share. */

import { jackknife } from '../run/statistics.js';
import type { Resampled, SlotSums } from './resampled.js';
import { COUNT_ERROR, latticeError, resample, shareError } from './resampled.js';

/** A histogram of watts over (size)^2: `bins` equal bins from 0 to limit^2, then one overflow bin. */
export interface SquaredHistogram {
  readonly offset: number;
  readonly bins: number;
  /** Size at the end of the last bin. */
  readonly limit: number;
  /**
   * How light is taken to lie within a bin: evenly over area (circles, scaled openings) or evenly over distance (strips).
   */
  readonly within: 'area' | 'distance';
}

/** Share of the way through bin `bin` at squared size `square` (in bins). */
function partOfBin(histogram: SquaredHistogram, bin: number, square: number): number {
  if (histogram.within === 'area') return square - bin;
  return (Math.sqrt(square) - Math.sqrt(bin)) / (Math.sqrt(bin + 1) - Math.sqrt(bin));
}

/** Inverse of `partOfBin`: squared size in bins. */
function squareAt(histogram: SquaredHistogram, bin: number, part: number): number {
  if (histogram.within === 'area') return bin + part;
  return (Math.sqrt(bin) + part * (Math.sqrt(bin + 1) - Math.sqrt(bin))) ** 2;
}

/**
 * Running sums of (sum - left out) x factor: entry i is the light in the first i bins.
 * @param leftOut a tally that is part of `sum`; null: none
 */
export function cumulate(
  { offset, bins }: SquaredHistogram,
  sum: Float64Array,
  leftOut: Float64Array | null,
  factor: number,
): Float64Array {
  const enclosed = new Float64Array(bins + 1);
  let light = 0;
  for (let bin = 0; bin < bins; bin++) {
    const watts = leftOut === null ? sum[offset + bin] : sum[offset + bin] - leftOut[offset + bin];
    light += watts * factor;
    enclosed[bin + 1] = light;
  }
  return enclosed;
}

/** A histogram of a run with its running sums, which all figures that are read from it share. */
export interface EnclosedLight extends SquaredHistogram {
  readonly sums: SlotSums;
  /** Running sums of the mean of all slots, W. */
  readonly whole: Float64Array;
  /** Those of the mean with each slot left out; none for a single slot. */
  readonly without: readonly Float64Array[];
}

export function enclosedLight(sums: SlotSums, histogram: SquaredHistogram): EnclosedLight {
  const { slots, batchesPerSlot, sum } = sums;
  const others = 1 / ((slots.length - 1) * batchesPerSlot);
  return {
    ...histogram,
    sums,
    whole: cumulate(histogram, sum, null, 1 / (slots.length * batchesPerSlot)),
    without: slots.length < 2 ? [] : slots.map((slot) => cumulate(histogram, sum, slot, others)),
  };
}

/** Light within `size`, from running sums; all of the bins beyond the limit. */
export function enclosedAt(histogram: SquaredHistogram, enclosed: Float64Array, size: number): number {
  const square = (size / histogram.limit) ** 2 * histogram.bins;
  // An edge that rounding puts a hair inside its bin is still the edge.
  const nearest = Math.round(square);
  if (Math.abs(square - nearest) < 1e-9 * Math.max(1, nearest)) {
    return enclosed[Math.min(nearest, histogram.bins)];
  }
  const bin = Math.floor(square);
  if (bin >= histogram.bins) return enclosed[histogram.bins];
  return enclosed[bin] + partOfBin(histogram, bin, square) * (enclosed[bin + 1] - enclosed[bin]);
}

/** Size that encloses `power`, from running sums; null where the bins do not hold that much. */
export function sizeEnclosing(
  histogram: SquaredHistogram,
  enclosed: Float64Array,
  power: number,
): number | null {
  if (!(power <= enclosed[histogram.bins]) || enclosed[histogram.bins] === 0) return null;
  let low = 0;
  let high = histogram.bins;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (enclosed[middle] >= power) high = middle;
    else low = middle;
  }
  const inBin = enclosed[high] - enclosed[low];
  const part = inBin > 0 ? (power - enclosed[low]) / inBin : 0;
  return histogram.limit * Math.sqrt(squareAt(histogram, low, part) / histogram.bins);
}

export interface EnclosingSize {
  /** The size, or the histogram's limit where `bounded`. */
  readonly size: Resampled;
  /** Standard error from ray counts, for a run of a single slot. */
  readonly countError: number;
  /** What `latticeError` and `COUNT_ERROR` of the share make of the size. */
  readonly leastSpread: number;
  readonly furtherError: number;
  /** True where even the limit does not enclose the share: the size is a lower bound. */
  readonly bounded: boolean;
}

/** Quarter width of the stretch of shares over which the slope of the enclosed light is taken, at least. */
const LEAST_SHARE_STEP = 0.01;

/**
 * Size that encloses `share` of `base`.
 *
 * Replicates are linearised (Bahadur's form of a sample quantile; Woodruff 1952, J. Am. Stat. Assoc. 47, 635-646, both from memory): the
 * leave-one-out error of the enclosed share at the size found, divided by the slope of enclosed share over size, the
 * slope being taken over a stretch wide enough to be free of bin noise. Re-reading the quantile on each
 * leave-one-out histogram would follow the noise of single bins instead.
 *
 * @param base the light the share is of, W
 * @param rays rays that carry `base`
 * @param lattices that these rays come from: facets x batches
 */
export function enclosingSize(
  light: EnclosedLight,
  base: (read: (offset: number) => number) => number,
  share: number,
  rays: number,
  lattices: number,
): EnclosingSize {
  const { sums, whole, without } = light;
  let wholeBase = 0;
  let found: number | null = null;
  const enclosedShare = resample(sums, (read, slot) => {
    const powerBase = base(read);
    if (slot < 0) {
      wholeBase = powerBase;
      found = sizeEnclosing(light, whole, share * powerBase);
      return found === null ? 0 : share;
    }
    if (found === null || powerBase <= 0) return share;
    return enclosedUpTo(light, without[slot], read, found) / powerBase;
  });
  const size = found as number | null;
  if (size === null) {
    const replicates = enclosedShare.replicates.map(() => light.limit);
    const bound = { value: light.limit, replicates };
    return { size: bound, countError: 0, leastSpread: 0, furtherError: 0, bounded: true };
  }
  const binomial = shareError(share, rays);
  const shareErrorHere =
    enclosedShare.replicates.length < 2 ? binomial : jackknife(enclosedShare.replicates, share).std_err;
  const step = Math.min(Math.max(LEAST_SHARE_STEP, 2 * shareErrorHere), share / 2);
  const upper = Math.min(share + step, whole[light.bins] / wholeBase);
  const lower = share - step;
  const far = sizeEnclosing(light, whole, upper * wholeBase) ?? size;
  const near = sizeEnclosing(light, whole, lower * wholeBase) ?? size;
  const sizePerShare = upper > lower ? (far - near) / (upper - lower) : 0;
  const replicates = enclosedShare.replicates.map((entry) => size - (entry - share) * sizePerShare);
  const sizePerRay = sizePerShare / Math.max(1, rays);
  return {
    size: { value: size, replicates },
    countError: binomial * sizePerShare,
    leastSpread: sizePerRay * latticeError(share * rays, (1 - share) * rays, lattices),
    furtherError: sizePerRay * COUNT_ERROR,
    bounded: false,
  };
}

/** Light within `size`: running sums up to the last whole bin, and the part of the next as it is read. */
function enclosedUpTo(
  histogram: SquaredHistogram,
  enclosed: Float64Array,
  read: (offset: number) => number,
  size: number,
): number {
  const square = (size / histogram.limit) ** 2 * histogram.bins;
  const bin = Math.min(Math.floor(square), histogram.bins);
  if (bin === histogram.bins) return enclosed[bin];
  return enclosed[bin] + partOfBin(histogram, bin, square) * read(histogram.offset + bin);
}
