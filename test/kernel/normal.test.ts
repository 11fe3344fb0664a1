import { describe, expect, it } from 'vitest';
import { buildNormalTable, normalDeviate, normalTailPoint } from '../../src/kernel/normal.js';
import { chiSquare, testBits, upperGamma } from '../support/chi-square.js';

const DRAWS = 10_000_000;
const LEVEL = 0.01;
/** Cells of 0.05 from -5 to 5, and a cell of its own beyond 5 sigma on either side. */
const REACH = 5;
const PER_UNIT = 20;
const INNER = 2 * REACH * PER_UNIT;

/** P(Z > z) by the incomplete gamma function, which shares nothing with the table. */
function tail(z: number): number {
  return z >= 0 ? upperGamma(0.5, (z * z) / 2) / 2 : 1 - tail(-z);
}

function sample(table: Float64Array, seed: number) {
  const next = testBits(seed);
  const counts = new Float64Array(INNER + 2);
  let first = 0;
  let second = 0;
  let fourth = 0;
  for (let draw = 0; draw < DRAWS; draw++) {
    const z = normalDeviate(table, next());
    const square = z * z;
    first += z;
    second += square;
    fourth += square * square;
    counts[Math.min(INNER + 1, Math.max(0, Math.floor((z + REACH) * PER_UNIT) + 1))]++;
  }
  const expected = counts.map((_count, cell) => {
    const below = cell === 0 ? 1 : tail((cell - 1) / PER_UNIT - REACH);
    const above = cell === INNER + 1 ? 0 : tail(cell / PER_UNIT - REACH);
    return DRAWS * (below - above);
  });
  // In standard errors of each moment: var(z) = 1, var(z^2) = 2, var(z^4) = 96.
  return {
    mean: (first / DRAWS) * Math.sqrt(DRAWS),
    variance: (second / DRAWS - 1) * Math.sqrt(DRAWS / 2),
    kurtosis: (fourth / DRAWS - 3) * Math.sqrt(DRAWS / 96),
    p: chiSquare(counts, expected).pValue,
  };
}

describe('inverse normal', () => {
  it('gives the check values of AS 241', () => {
    // Wichura 1988: P = 0.25, 0.001, 1e-20 -> -0.6744897501960817, -3.090232306167814, -9.262340089798408.
    expect(normalTailPoint(0.25)).toBeCloseTo(0.6744897501960817, 14);
    expect(normalTailPoint(0.001)).toBeCloseTo(3.090232306167814, 14);
    expect(normalTailPoint(1e-20)).toBeCloseTo(9.26234008979841, 13);
    expect(normalTailPoint(0.75)).toBeCloseTo(-0.6744897501960817, 14);
  });

  it('turns back to the tail probability through the incomplete gamma function', () => {
    for (const z of [0.01, 0.5, 1, 2, 3, 4, 5, 6, 6.3]) {
      expect(normalTailPoint(tail(z)) / z).toBeCloseTo(1, 11);
    }
  });

  it('refuses what is no probability', () => {
    for (const bad of [0, 1, -0.1, Number.NaN]) expect(() => normalTailPoint(bad)).toThrow(RangeError);
  });
});

describe('normal deviates', () => {
  it('has mean 0, variance 1, kurtosis 3 and the right cells, tails beyond 5 sigma included', () => {
    const { mean, variance, kurtosis, p } = sample(buildNormalTable(), 11);
    expect(Math.abs(mean)).toBeLessThan(4);
    expect(Math.abs(variance)).toBeLessThan(4);
    expect(Math.abs(kurtosis)).toBeLessThan(4);
    expect(p).toBeGreaterThan(LEVEL);
  });

  it('sabotage: a table too wide by 0.2 % fails moments and cells', () => {
    const wide = buildNormalTable().map((value) => value * 1.002);
    const { variance, kurtosis, p } = sample(wide, 11);
    expect(Math.abs(variance)).toBeGreaterThan(4);
    expect(Math.abs(kurtosis)).toBeGreaterThan(4);
    expect(p).toBeLessThan(LEVEL);
  });

  it('is odd in the top bit, rises to about 6.3 sigma and takes unsigned integers', () => {
    const table = buildNormalTable();
    for (const bits of [0, 1, 1000, 2 ** 30, 2 ** 31 - 1]) {
      expect(normalDeviate(table, bits | 0x80000000)).toBe(-normalDeviate(table, bits));
      expect(normalDeviate(table, bits + 2 ** 31)).toBe(-normalDeviate(table, bits));
    }
    expect(normalDeviate(table, 0)).toBeGreaterThan(6.2);
    expect(normalDeviate(table, 0)).toBeLessThan(6.5);
    expect(normalDeviate(table, 2 ** 31 - 1)).toBeLessThan(1e-9);
  });

  it('interpolates the inverse normal to 8e-6', () => {
    const table = buildNormalTable();
    const next = testBits(12);
    for (let index = 0; index < 20_000; index++) {
      const v = (next() >>> 1) >>> (index % 31);
      expect(Math.abs(normalDeviate(table, v) - normalTailPoint((v + 0.5) / 2 ** 32))).toBeLessThan(8e-6);
    }
  });
});
