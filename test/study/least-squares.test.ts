import { describe, expect, it } from 'vitest';
import { covarianceOf, leastSquares, solveSymmetric } from '../../src/study/least-squares.js';
import { simplexDescent } from '../../src/study/simplex-descent.js';

/** Rosenbrock's valley (Comput. J. 3 (1960) 175): residuals 10 (y - x^2) and 1 - x; the bottom is at (1, 1). */
const valley = ([x, y]: readonly number[]) => Float64Array.of(10 * (y - x * x), 1 - x);

describe('least squares', () => {
  it("finds the end of Rosenbrock's valley", () => {
    const fit = leastSquares(valley, [-1.2, 1]);
    expect(fit.converged).toBe(true);
    expect(fit.parameters).toEqual([expect.closeTo(1, 8), expect.closeTo(1, 8)]);
  });

  it('leaves alone what the residuals do not feel', () => {
    const fit = leastSquares(([x, idle]) => Float64Array.of(x - 3, 0 * idle), [0, 7]);
    expect(fit.parameters).toEqual([expect.closeTo(3, 9), 7]);
    expect(covarianceOf(fit, 1, 2)).toBeNull();
  });

  it('refuses a start that cannot be worked out', () => {
    expect(() => leastSquares(() => Float64Array.of(Number.NaN), [0])).toThrow(/not finite/);
  });

  it('solves by hand-checked numbers, and says where there is no answer', () => {
    expect(
      solveSymmetric(
        [
          [4, 2],
          [2, 3],
        ],
        [10, 9],
      ),
    ).toEqual([expect.closeTo(1.5, 12), expect.closeTo(2, 12)]);
    expect(
      solveSymmetric(
        [
          [1, 1],
          [1, 1],
        ],
        [1, 2],
      ),
    ).toBeNull();
  });

  it('covariance of a mean: closed form', () => {
    const readings = [1, 2, 4, 9];
    const fit = leastSquares(([m]) => Float64Array.from(readings, (value) => value - m), [0]);
    // Mean 4; every reading has a leverage of 1/4: sum of (e / (3/4))^2 / 16.
    const squares = 9 + 4 + 0 + 25;
    expect(covarianceOf(fit, 1, 1)?.[0][0]).toBeCloseTo(squares / (9 / 16) / 16, 8);
    // Four residuals of a single reading leave nothing to judge by.
    expect(covarianceOf(fit, 4, 1)).toBeNull();
  });
});

describe('descent by a simplex', () => {
  it("finds the end of Rosenbrock's valley without derivatives", () => {
    const value = (p: readonly number[]) => valley(p).reduce((sum, r) => sum + r * r, 0);
    const found = simplexDescent(value, [-1.2, 1], [0.5, 0.5], 1e-7, 2000);
    expect(found.parameters).toEqual([expect.closeTo(1, 5), expect.closeTo(1, 5)]);
  });

  it('is never worse than its start and keeps to its tries', () => {
    const rough = ([x]: readonly number[]) => (x === 2 ? -1 : Number.NaN);
    const found = simplexDescent(rough, [2], [1], 1e-9, 25);
    expect(found).toMatchObject({ parameters: [2], value: -1 });
    expect(found.evaluations).toBeLessThanOrEqual(28);
  });

  it('refuses steps of nothing', () => {
    expect(() => simplexDescent(() => 0, [1, 2], [1, 0], 1e-3, 10)).toThrow(/first step/);
  });
});
