import { describe, expect, it } from 'vitest';
import { chiSquare, logGamma, sidakLevel, testBits, upperGamma } from './chi-square.js';

describe('chi-square test', () => {
  it('has the incomplete gamma function right: closed forms', () => {
    for (const x of [0.1, 0.9, 1.5, 3, 10, 40]) {
      // Q(1, x) = exp(-x), Q(2, x) = (1 + x) exp(-x), Q(3, x) = (1 + x + x^2/2) exp(-x).
      expect(upperGamma(1, x) / Math.exp(-x)).toBeCloseTo(1, 12);
      expect(upperGamma(2, x) / ((1 + x) * Math.exp(-x))).toBeCloseTo(1, 12);
      expect(upperGamma(3, x) / ((1 + x + (x * x) / 2) * Math.exp(-x))).toBeCloseTo(1, 12);
    }
    expect(upperGamma(5, 0)).toBe(1);
  });

  it('meets the tabled points of the chi-square distribution', () => {
    // Common tables: upper 5 % points 3.841459, 18.307038, 124.342113; upper 1 % point for 10 degrees 23.209251.
    expect(upperGamma(0.5, 3.841459 / 2)).toBeCloseTo(0.05, 7);
    expect(upperGamma(5, 18.307038 / 2)).toBeCloseTo(0.05, 7);
    expect(upperGamma(50, 124.342113 / 2)).toBeCloseTo(0.05, 7);
    expect(upperGamma(5, 23.209251 / 2)).toBeCloseTo(0.01, 7);
  });

  it('has the logarithm of the gamma function right', () => {
    expect(logGamma(0.5)).toBeCloseTo(Math.log(Math.sqrt(Math.PI)), 12);
    expect(logGamma(1)).toBeCloseTo(0, 12);
    expect(logGamma(11)).toBeCloseTo(Math.log(3_628_800), 12);
  });

  it('adds up a worked case, pools small cells and refuses counts where none can be', () => {
    // A die thrown 60 times: 5, 8, 9, 8, 10, 20 against 10 each: 13.4 with 5 degrees, p = 0.0199.
    const die = chiSquare([5, 8, 9, 8, 10, 20], new Array(6).fill(10));
    expect(die.statistic).toBeCloseTo(13.4, 12);
    expect(die.degrees).toBe(5);
    expect(die.pValue).toBeCloseTo(0.0199, 4);
    const pooled = chiSquare([50, 50, 2, 3, 1], [50, 50, 2, 2, 2]);
    expect(pooled.degrees).toBe(2);
    expect(pooled.pValue).toBe(1);
    expect(chiSquare([50, 50, 2], [51, 51, 0]).pValue).toBe(0);
    expect(chiSquare([50, 48, 2], [50, 48, 2]).degrees).toBe(1);
    expect(() => chiSquare([1, 2], [1])).toThrow(RangeError);
    expect(() => chiSquare([3, 3], [3, 3])).toThrow(RangeError);
  });

  it('corrects for a family', () => {
    expect(1 - (1 - sidakLevel(0.01, 7)) ** 7).toBeCloseTo(0.01, 12);
    expect(sidakLevel(0.01, 1)).toBeCloseTo(0.01, 15);
  });

  it('has test bits that repeat for a seed and differ between seeds', () => {
    const draw = (seed: number) => Array.from({ length: 4 }, testBits(seed));
    expect(draw(1)).toEqual(draw(1));
    expect(draw(1)).not.toEqual(draw(2));
  });
});
