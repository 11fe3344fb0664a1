/** Sizes and shares from hand-made histograms. */
import { describe, expect, it } from 'vitest';
import {
  cumulate,
  enclosedAt,
  enclosedLight,
  enclosingSize,
  type SquaredHistogram,
  sizeEnclosing,
} from '../../src/result/enclosed.js';
import { COUNT_ERROR, latticeError, shareError, sumSlots } from '../../src/result/resampled.js';
import { jackknife } from '../../src/run/statistics.js';

const AREA: SquaredHistogram = { offset: 2, bins: 4, limit: 0.2, within: 'area' };
const DISTANCE: SquaredHistogram = { ...AREA, within: 'distance' };
/** Two entries of something else, four bins, what lies beyond. */
const TALLY = Float64Array.of(99, 99, 1, 3, 0, 4, 2);
const enclosed = cumulate(AREA, TALLY, null, 1);

describe('running sums', () => {
  it('start at nothing and leave out what lies beyond', () => {
    expect([...enclosed]).toEqual([0, 1, 4, 4, 8]);
  });

  it('are those of the others where one slot is left out', () => {
    const slot = Float64Array.of(9, 9, 1, 1, 0, 2, 1);
    expect([...cumulate(AREA, TALLY, slot, 0.5)]).toEqual([0, 0, 1, 1, 2]);
  });

  it('are read at the edges of bins, sqrt(bin / bins) of the limit, and beyond', () => {
    for (const histogram of [AREA, DISTANCE]) {
      [0, 1, 4, 4, 8].forEach((light, edge) => {
        expect(enclosedAt(histogram, enclosed, 0.2 * Math.sqrt(edge / 4))).toBe(light);
      });
      expect(enclosedAt(histogram, enclosed, 0.3)).toBe(8);
      expect(enclosedAt(histogram, enclosed, 0.2 * Math.sqrt(4.5 / 4))).toBe(8);
    }
  });

  it('are read within a bin evenly over area, or over distance', () => {
    // 0.4 of the way, in squares, through the second bin.
    const size = 0.2 * Math.sqrt(1.4 / 4);
    expect(enclosedAt(AREA, enclosed, size)).toBeCloseTo(1 + 0.4 * 3, 12);
    const way = (Math.sqrt(1.4) - 1) / (Math.SQRT2 - 1);
    expect(enclosedAt(DISTANCE, enclosed, size)).toBeCloseTo(1 + way * 3, 12);
  });

  it('give back the size that encloses a power', () => {
    for (const histogram of [AREA, DISTANCE]) {
      for (const size of [0.03, 0.1, 0.12, 0.18, 0.199]) {
        const power = enclosedAt(histogram, enclosed, size);
        expect(sizeEnclosing(histogram, enclosed, power)).toBeCloseTo(size, 12);
      }
      expect(sizeEnclosing(histogram, enclosed, 8)).toBeCloseTo(0.2, 14);
      expect(sizeEnclosing(histogram, enclosed, 8.001)).toBeNull();
      expect(sizeEnclosing(histogram, enclosed, Number.NaN)).toBeNull();
      expect(sizeEnclosing(histogram, new Float64Array(5), 0)).toBeNull();
    }
  });
});

describe('the size that encloses a share', () => {
  /** Light even over the area of a circle of 0.2 m: the share is the square of the size over 0.2. */
  const even: SquaredHistogram = { offset: 0, bins: 100, limit: 0.2, within: 'area' };
  const slotOf = (inner: number) => {
    const slot = new Float64Array(101).fill(1);
    // Moved from the outer half to the inner one.
    for (let bin = 0; bin < 100; bin++) slot[bin] += bin < 50 ? inner : -inner;
    slot[100] = 0;
    return slot;
  };
  const base = (read: (offset: number) => number) => {
    let sum = 0;
    for (let bin = 0; bin <= 100; bin++) sum += read(bin);
    return sum;
  };
  const inners = [0.1, -0.1, 0.3, -0.3];
  const found = enclosingSize(enclosedLight(sumSlots(inners.map(slotOf), 1), even), base, 0.36, 1e4, 48);
  /** d size / d share = 0.2 / (2 sqrt(share)), closed form; a stretch of shares, not a point, is used: 1 % at most. */
  const slope = 0.2 / (2 * Math.sqrt(0.36));

  it('is found, with leave-one-out values by the slope of the enclosed light', () => {
    expect(found.bounded).toBe(false);
    expect(found.size.value).toBeCloseTo(0.12, 12);
    const shares = inners.map((_, j) => {
      const others = inners.filter((_, i) => i !== j);
      return 0.36 + (0.36 * others.reduce((sum, inner) => sum + inner, 0)) / 3;
    });
    shares.forEach((share, j) => {
      // More light inside: a smaller circle will do.
      expect((0.12 - found.size.replicates[j]) / (slope * (share - 0.36))).toBeCloseTo(1, 1);
    });
    expect(jackknife(found.size.replicates, 0.12).std_err).toBeGreaterThan(0);
  });

  it('has the errors of the counts, by the same slope', () => {
    expect(found.countError / (slope * shareError(0.36, 1e4))).toBeCloseTo(1, 1);
    expect(found.leastSpread / (slope * 1e-4 * latticeError(3600, 6400, 48))).toBeCloseTo(1, 1);
    expect(found.furtherError / (slope * 1e-4 * COUNT_ERROR)).toBeCloseTo(1, 1);
    const single = enclosingSize(enclosedLight(sumSlots([slotOf(0)], 1), even), base, 0.36, 1e4, 48);
    expect(single.size.replicates).toHaveLength(0);
    expect(single.countError / (slope * shareError(0.36, 1e4))).toBeCloseTo(1, 3);
  });

  it('is a bound where the bins do not hold the share', () => {
    const slots = inners.map((inner) => {
      const slot = slotOf(inner);
      slot[100] = 300;
      return slot;
    });
    const bound = enclosingSize(enclosedLight(sumSlots(slots, 1), even), base, 0.36, 1e4, 48);
    expect(bound).toMatchObject({ countError: 0, leastSpread: 0, furtherError: 0, bounded: true });
    expect(bound.size.value).toBe(0.2);
    expect([...bound.size.replicates]).toEqual([0.2, 0.2, 0.2, 0.2]);
  });
});
