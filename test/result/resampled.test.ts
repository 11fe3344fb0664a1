/** Figures from hand-made slots: values, errors and bounds that can be worked out on paper. */
import { describe, expect, it } from 'vitest';
import {
  COUNT_ERROR,
  exactFigure,
  FEW_RAYS,
  figureOf,
  latticeError,
  powerFigure,
  resample,
  resampledMean,
  scaleFigure,
  scaleResampled,
  shareError,
  shareFigure,
  sumSlots,
} from '../../src/result/resampled.js';
import { NORMAL_975, standardError, studentT975, wilsonInterval } from '../../src/run/statistics.js';

/** Four slots of two batches each, with one number in them. */
const SLOTS = [6, 2, 4, 8].map((entry) => Float64Array.of(entry));
const PER_BATCH = Float64Array.of(3, 1, 2, 4);
const quantity = resampledMean(PER_BATCH);
const t = studentT975(3);
const spread = standardError(PER_BATCH);

describe('leaving out one slot at a time', () => {
  it('reads the tally per batch, whole and without each slot', () => {
    const seen: number[] = [];
    const { value, replicates } = resample(sumSlots(SLOTS, 2), (read, slot) => {
      seen.push(slot);
      return read(0);
    });
    expect(value).toBe(2.5);
    [14 / 6, 18 / 6, 16 / 6, 12 / 6].forEach((others, j) => {
      expect(replicates[j]).toBeCloseTo(others, 14);
    });
    expect(replicates).toHaveLength(4);
    expect(seen).toEqual([-1, 0, 1, 2, 3]);
    expect(resample(sumSlots(SLOTS.slice(0, 1), 2), (read) => read(0))).toEqual({
      value: 3,
      replicates: new Float64Array(0),
    });
  });

  it('is a plain mean of readings', () => {
    expect(quantity.value).toBe(2.5);
    expect([...quantity.replicates]).toEqual([7 / 3, 9 / 3, 8 / 3, 6 / 3]);
    const twice = scaleResampled(quantity, 2);
    expect(twice.value).toBe(5);
    expect([...twice.replicates]).toEqual([14 / 3, 18 / 3, 16 / 3, 12 / 3]);
  });
});

describe('a figure', () => {
  it("has the slots' standard error and Student's interval", () => {
    const figure = figureOf(quantity, 'W', { singleSlotError: 9 });
    expect(figure.std_err).toBeCloseTo(spread, 14);
    expect(figure.ci95[0]).toBeCloseTo(2.5 - t * spread, 13);
    expect(figure.ci95[1]).toBeCloseTo(2.5 + t * spread, 13);
  });

  it('adds further errors in quadrature; one upwards lies in the upper end alone', () => {
    const figure = figureOf(quantity, 'W', { singleSlotError: 9, furtherError: 0.3, errorUpwards: 0.4 });
    expect(figure.std_err).toBeCloseTo(Math.sqrt(spread ** 2 + 0.09 + 0.16), 14);
    expect(figure.ci95[0]).toBeCloseTo(2.5 - t * Math.sqrt(spread ** 2 + 0.09), 13);
    expect(figure.ci95[1]).toBeCloseTo(2.5 + t * Math.sqrt(spread ** 2 + 0.09 + 2 * 0.16), 13);
  });

  it('has no less spread than the lattices allow, and stays within its bounds', () => {
    const figure = figureOf(quantity, 'W', { singleSlotError: 9, leastSpread: 1, min: 2, max: 3 });
    expect(figure.std_err).toBe(1);
    expect(figure.ci95).toEqual([2, 3]);
    // Rounding has carried the value past its bound.
    expect(figureOf(quantity, 'W', { singleSlotError: 9, min: 2.6, max: 2.4 }).ci95).toEqual([2.5, 2.5]);
  });

  it('of a single slot takes the error given', () => {
    const single = { value: 2.5, replicates: new Float64Array(0) };
    const figure = figureOf(single, 'W', { singleSlotError: 0.5, leastSpread: 7 });
    expect(figure.std_err).toBe(0.5);
    expect(figure.ci95[0]).toBeCloseTo(2.5 - 0.5 * NORMAL_975, 14);
    expect(figure.ci95[1]).toBeCloseTo(2.5 + 0.5 * NORMAL_975, 14);
  });

  it('is scaled as a whole', () => {
    const scaled = scaleFigure(
      { value: 2, std_err: 0.1, ci95: [1.8, 2.3], unit: 'W', limit: 'lower' },
      10,
      'mW',
    );
    expect(scaled).toEqual({ value: 20, std_err: 1, ci95: [18, 23], unit: 'mW', limit: 'lower' });
    expect(exactFigure(4, 'W')).toEqual({ value: 4, std_err: 0, ci95: [4, 4], unit: 'W' });
  });
});

describe('the error of counts', () => {
  it('is 1/12 ray^2 per lattice, or per ray on the rarer side', () => {
    expect(latticeError(100, 200, 48)).toBeCloseTo(2, 14);
    expect(latticeError(3, 200, 48)).toBeCloseTo(0.5, 14);
    expect(latticeError(200, 3, 48)).toBeCloseTo(0.5, 14);
    expect(latticeError(0, 5, 48)).toBe(0);
    expect(latticeError(-1, 5, 48)).toBe(0);
  });

  it("of a share is Wilson's half width in normal ones", () => {
    const [low, high] = wilsonInterval(30, 120);
    expect(shareError(0.25, 120)).toBeCloseTo((high - low) / (2 * NORMAL_975), 14);
    expect(shareError(1.1, 120)).toBe(shareError(1, 120));
    expect(shareError(-0.1, 120)).toBe(shareError(0, 120));
    expect(shareError(0.5, 0)).toBe(0);
  });
});

describe('a share of rays', () => {
  const share = resampledMean(Float64Array.of(0.21, 0.19, 0.22, 0.18));

  it('of many has the spread of the slots, no less than the lattices, and z/2 rays', () => {
    const least = latticeError(200, 800, 1e6) / 1000;
    const wide = Math.max(least, standardError(Float64Array.of(0.21, 0.19, 0.22, 0.18)));
    const figure = shareFigure(share, 200, 1000, 1e6);
    expect(figure.std_err).toBeCloseTo(Math.hypot(wide, COUNT_ERROR / 1000), 14);
    const calm = { value: 0.2, replicates: new Float64Array(4).fill(0.2) };
    expect(shareFigure(calm, 200, 1000, 1e6).std_err).toBeCloseTo(Math.hypot(least, COUNT_ERROR / 1000), 14);
    const sure = { value: 0.9999, replicates: Float64Array.of(0.995, 1, 1, 1) };
    expect(shareFigure(sure, 90, 100, 1).ci95[1]).toBe(1);
    const single = { value: 0.2, replicates: new Float64Array(0) };
    expect(shareFigure(single, 20, 100, 1).std_err).toBeCloseTo(
      Math.hypot(shareError(0.2, 100), COUNT_ERROR / 100),
      14,
    );
  });

  it.each([FEW_RAYS - 1, 1000 - FEW_RAYS + 1])("of %d in 1000 has Wilson's interval", (hits) => {
    const value = hits / 1000;
    const figure = shareFigure({ value, replicates: new Float64Array(4).fill(value) }, hits, 1000, 10);
    const [low, high] = wilsonInterval(hits, 1000);
    expect(figure).toEqual({ value, std_err: (high - low) / (2 * NORMAL_975), ci95: [low, high], unit: '1' });
  });

  it('of exactly ten inside and outside speaks by its slots', () => {
    const calm = (value: number) => ({ value, replicates: new Float64Array(4).fill(value) });
    for (const hits of [FEW_RAYS, 1000 - FEW_RAYS]) {
      const figure = shareFigure(calm(hits / 1000), hits, 1000, 10);
      expect(figure.std_err).toBeCloseTo(Math.hypot(latticeError(10, 990, 10), COUNT_ERROR) / 1000, 14);
    }
  });

  it('of none, of all and of no rays are bounds', () => {
    expect(shareFigure({ ...share, value: 0 }, 0, 50, 1)).toMatchObject({ limit: 'upper', unit: '1' });
    expect(shareFigure({ ...share, value: 1 }, 50, 50, 1)).toMatchObject({ limit: 'lower', unit: '1' });
    expect(shareFigure(share, 0, 0, 1)).toEqual({
      value: 0,
      std_err: 0,
      ci95: [0, 1],
      unit: '1',
      limit: 'upper',
    });
  });
});

describe('the power of rays', () => {
  it('of many has the spread of the slots; what is counted against others, theirs too', () => {
    expect(powerFigure(quantity, 50, 100, 9, null).std_err).toBeCloseTo(spread, 14);
    const calm = { value: 100, replicates: new Float64Array(4).fill(100) };
    const figure = powerFigure(calm, 50, 200, 9, { misses: 150, lattices: 48 });
    // 2 W a ray.
    expect(figure.std_err).toBeCloseTo(2 * Math.hypot(2, COUNT_ERROR), 13);
    const single = { value: 100, replicates: new Float64Array(0) };
    expect(powerFigure(single, 50, 200, 9, null).std_err).toBeCloseTo(2 * 200 * shareError(0.25, 200), 13);
    const low = { value: 0.1, replicates: Float64Array.of(0, 0.4, 0, 0) };
    expect(powerFigure(low, 50, 200, 9, null).ci95[0]).toBe(0);
  });

  it("of few has Wilson's interval at their mean power; ten are not few", () => {
    const calm = { value: 18, replicates: new Float64Array(4).fill(18) };
    const few = powerFigure(calm, 9, 200, 7, { misses: 191, lattices: 48 });
    const [low, high] = wilsonInterval(9, 200);
    expect(few.ci95[0]).toBeCloseTo(2 * 200 * low, 12);
    expect(few.ci95[1]).toBeCloseTo(2 * 200 * high, 12);
    expect(few.std_err).toBeCloseTo(2 * 200 * shareError(9 / 200, 200), 12);
    expect(few.limit).toBeUndefined();
    const ten = powerFigure(calm, 10, 200, 7, null);
    expect(ten.std_err).toBe(0);
  });

  it('of none is a limit at the power a ray may carry; of no rays at all there is nothing to know', () => {
    const none = powerFigure({ value: 0, replicates: new Float64Array(4) }, 0, 200, 7, null);
    expect(none).toMatchObject({ value: 0, limit: 'upper', unit: 'W' });
    expect(none.ci95[0]).toBe(0);
    expect(none.ci95[1]).toBeCloseTo(7 * 200 * wilsonInterval(0, 200)[1], 12);
    expect(powerFigure({ value: 0, replicates: new Float64Array(4) }, 0, 0, 7, null)).toEqual(
      exactFigure(0, 'W'),
    );
  });
});
