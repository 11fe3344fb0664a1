import tQuantile from '@stdlib/stats-base-dists-t-quantile';
import { describe, expect, it } from 'vitest';
import {
  interval95,
  jackknife,
  mean,
  meanEstimate,
  ratioEstimate,
  standardError,
  studentT975,
  wilsonInterval,
} from '../../src/run/statistics.js';

describe("Student's t", () => {
  // Oracle: @stdlib/stats-base-dists-t-quantile. It states no accuracy of its own; 1e-9 is far below what an interval needs.
  it.each([1, 1.5, 2, 2.7, 3, 4, 5, 7, 10, 20, 31, 32.5, 47, 62, 100, 500, 999, 1000, 1500, 1e4, 1e6])(
    'agrees with the reference quantile at %d degrees of freedom',
    (dof) => {
      const reference = tQuantile(0.975, dof);
      expect(Math.abs(studentT975(dof) / reference - 1)).toBeLessThan(1e-9);
    },
  );

  it('has its closed forms at 1 and 2 degrees of freedom', () => {
    expect(studentT975(1)).toBeCloseTo(Math.tan(Math.PI * 0.475), 11);
    // t = a sqrt(2 / (1 - a^2)) with a = 2p - 1 = 0.95.
    expect(studentT975(2)).toBeCloseTo(0.95 * Math.sqrt(2 / (1 - 0.95 ** 2)), 12);
  });

  it('goes over from the root to the expansion without a step that matters', () => {
    // The first term left out is some 3 z^9 / (1000 dof^4) = 1e-12; a wrong sign in the third makes 7e-10.
    expect(Math.abs(studentT975(1000) - studentT975(1000 - 1e-9))).toBeLessThan(2e-11);
  });

  it('refuses what has no error', () => {
    expect(() => studentT975(0)).toThrow(RangeError);
    expect(() => studentT975(Number.NaN)).toThrow(RangeError);
  });
});

describe('mean and standard error', () => {
  it('follows a sum done by hand', () => {
    const values = [1, 2, 3, 6];
    expect(mean(values)).toBe(3);
    // Squares 4 + 1 + 0 + 9 = 14; 14 / (4 x 3).
    expect(standardError(values)).toBeCloseTo(Math.sqrt(14 / 12), 15);
    expect(standardError([5])).toBe(Number.POSITIVE_INFINITY);
  });

  it('scales with the values and ignores a common offset', () => {
    const values = [0.3, 1.7, -0.2, 0.9, 2.2];
    const moved = values.map((value) => 10 * value + 100);
    expect(standardError(moved)).toBeCloseTo(10 * standardError(values), 12);
  });

  it('puts Student half widths around the value', () => {
    const estimate = meanEstimate([1, 2, 3, 6]);
    const [low, high] = interval95(estimate, 4);
    expect(high - 3).toBeCloseTo(studentT975(3) * estimate.std_err, 14);
    expect(low + high).toBeCloseTo(6, 14);
    expect(interval95(estimate, 1)).toEqual([Number.NEGATIVE_INFINITY, Number.POSITIVE_INFINITY]);
  });
});

describe('ratio', () => {
  it('is the mean over a constant denominator', () => {
    const numerators = [1, 2, 3, 6];
    const ratio = ratioEstimate(numerators, [2, 2, 2, 2]);
    const plain = meanEstimate(numerators.map((value) => value / 2));
    expect(ratio.value).toBeCloseTo(plain.value, 15);
    expect(ratio.std_err).toBeCloseTo(plain.std_err, 15);
  });

  it('has no error where both vary together', () => {
    const ratio = ratioEstimate([1, 2, 3], [3, 6, 9]);
    expect(ratio.value).toBeCloseTo(1 / 3, 15);
    expect(ratio.std_err).toBeCloseTo(0, 15);
  });

  it('is 0 with no error where nothing is below', () => {
    expect(ratioEstimate([0, 0], [0, 0])).toEqual({ value: 0, std_err: 0 });
  });
});

describe('jackknife', () => {
  const values = [1.2, 0.4, 2.2, 1.9, 0.7, 1.1];
  const total = values.reduce((sum, value) => sum + value, 0);

  it('gives the ordinary standard error of a mean, and no bias', () => {
    const leftOut = Float64Array.from(values, (value) => (total - value) / (values.length - 1));
    const { std_err, bias } = jackknife(leftOut, total / values.length);
    expect(std_err).toBeCloseTo(standardError(values), 14);
    expect(bias).toBeCloseTo(0, 14);
  });

  it('finds the bias of the squared mean, which is the squared standard error', () => {
    const leftOut = Float64Array.from(values, (value) => ((total - value) / (values.length - 1)) ** 2);
    const { bias } = jackknife(leftOut, (total / values.length) ** 2);
    expect(bias).toBeCloseTo(standardError(values) ** 2, 14);
  });
});

describe('Wilson interval', () => {
  it('solves |p - share| = z sqrt(p (1 - p) / n) at both ends', () => {
    const [hits, trials] = [7, 40];
    for (const end of wilsonInterval(hits, trials)) {
      const distance = Math.abs(end - hits / trials);
      expect(distance).toBeCloseTo(1.959963984540054 * Math.sqrt((end * (1 - end)) / trials), 13);
    }
  });

  it('gives an upper limit for no hits: z^2 / (n + z^2)', () => {
    const [low, high] = wilsonInterval(0, 100);
    expect(low).toBe(0);
    const z2 = 1.959963984540054 ** 2;
    expect(high).toBeCloseTo(z2 / (100 + z2), 14);
    expect(wilsonInterval(100, 100)[1]).toBe(1);
    expect(() => wilsonInterval(3, 2)).toThrow(RangeError);
  });
});
