/** Footprints on a map against the same light in a million equal parts. */
import seedrandom from 'seedrandom';
import { describe, expect, it } from 'vitest';
import {
  buildNormalCdf,
  depositNarrow,
  depositWide,
  isWide,
  normalCdf,
} from '../../src/kernel/gaussian-deposit.js';
import { normalTailPoint } from '../../src/kernel/normal.js';

const CDF = buildNormalCdf();
const NU = 24;
const NV = 20;

interface Footprint {
  readonly u: number;
  readonly v: number;
  readonly uu: number;
  readonly uv: number;
  readonly vv: number;
}

function deposit({ u, v, uu, uv, vv }: Footprint, watts = 1): Float64Array {
  const map = new Float64Array(NU * NV);
  if (isWide(uu, uv, vv)) depositWide(map, 0, NU, NV, watts, u, v, uu, uv, vv);
  else depositNarrow(map, 0, NU, NV, watts, u, v, uu, uv, vv, CDF);
  return map;
}

/** Fibonacci numbers in a row: a lattice of PARTS points with the step of the smaller one. */
const PARTS = 832_040;
const STEP = 514_229;
const DEVIATES = Float64Array.from({ length: PARTS }, (_, i) => normalTailPoint((i + 0.5) / PARTS));

/** Many equal parts of the footprint, each put into the cell it lies in: slow, and true to the number of parts. */
function byParts({ u, v, uu, uv, vv }: Footprint): Float64Array {
  const map = new Float64Array(NU * NV);
  const a = Math.sqrt(uu);
  const lean = a > 0 ? uv / a : 0;
  const b = Math.sqrt(Math.max(0, vv - lean * lean));
  for (let i = 0, other = 0; i < PARTS; i++, other = (other + STEP) % PARTS) {
    const p = DEVIATES[i];
    const iu = Math.floor(u + a * p);
    const iv = Math.floor(v + lean * p + b * DEVIATES[other]);
    if (iu >= 0 && iu < NU && iv >= 0 && iv < NV) map[iv * NU + iu] += 1 / PARTS;
  }
  return map;
}

function largestGap(a: Float64Array, b: Float64Array): number {
  let most = 0;
  let highest = 0;
  for (let i = 0; i < a.length; i++) {
    most = Math.max(most, Math.abs(a[i] - b[i]));
    highest = Math.max(highest, b[i]);
  }
  return most / highest;
}

const sum = (map: Float64Array) => map.reduce((total, watts) => total + watts, 0);

const SHAPES: readonly (readonly [string, Footprint])[] = [
  ['wide and round', { u: 12.3, v: 9.8, uu: 4, uv: 0, vv: 4 }],
  ['wide and leaning', { u: 11.7, v: 10.2, uu: 6, uv: 3, vv: 3 }],
  ['just wide', { u: 12.5, v: 10.5, uu: 1, uv: 0, vv: 1 }],
  ['half a cell', { u: 12.1, v: 10.6, uu: 0.25, uv: 0.1, vv: 0.25 }],
  ['wide, leaning so far that rows start afresh', { u: 11.7, v: 10.2, uu: 12, uv: -9, vv: 8 }],
  ['wide, larger than the map', { u: 9.7, v: 16.2, uu: 30, uv: 10, vv: 20 }],
  ['long and thin', { u: 12.4, v: 10.3, uu: 9, uv: 3, vv: 1.01 }],
  ['a line along u', { u: 12.4, v: 10.3, uu: 4, uv: 0, vv: 0 }],
  ['a line along v', { u: 12.4, v: 10.3, uu: 0, uv: 0, vv: 4 }],
  ['a slanting line', { u: 12.4, v: 10.3, uu: 4, uv: 4, vv: 4 }],
  ['over the low corner', { u: 0.4, v: -0.7, uu: 3, uv: -1, vv: 2 }],
  ['over the far edge, thin', { u: 23.9, v: 10.2, uu: 0.3, uv: 0.2, vv: 2 }],
  ['far smaller than a cell', { u: 12.02, v: 10.01, uu: 1e-4, uv: 0, vv: 1e-4 }],
];

describe('a footprint on the map', () => {
  it('the table of the normal distribution is the inverse of its tail points', () => {
    for (let i = 1; i < 2000; i++) {
      const share = i / 2000;
      expect(Math.abs(normalCdf(CDF, -normalTailPoint(share)) - share)).toBeLessThan(1e-8);
    }
  });

  // Differences against the highest cell. The rule of middles is 1/960 off at a variance of one cell, a line in strips 1/500.
  it.each(SHAPES)('%s: each cell holds the integral over itself', (_, shape) => {
    expect(largestGap(deposit(shape), byParts(shape))).toBeLessThan(0.0025);
  });

  it.each(SHAPES.filter(([, { uu, vv }]) => Math.max(uu, vv) > 0.01))(
    'sabotage: %s with its covariance 10 %% larger is seen',
    (_, shape) => {
      const { uu, uv, vv } = shape;
      const larger = { ...shape, uu: 1.1 * uu, uv: 1.1 * uv, vv: 1.1 * vv };
      expect(largestGap(deposit(larger), byParts(shape))).toBeGreaterThan(0.012);
    },
  );

  it('without spread all watts are in one cell', () => {
    const map = deposit({ u: 3.25, v: 7.5, uu: 0, uv: 0, vv: 0 }, 5);
    expect(map[7 * NU + 3]).toBe(5);
    expect(sum(map)).toBe(5);
  });

  it('no watt more or less than the map can hold', () => {
    const random = seedrandom.alea('footprints');
    for (let trial = 0; trial < 500; trial++) {
      const a = 10 ** (-3 + 3.2 * random());
      const b = 10 ** (-3 + 3.2 * random());
      const shape = { uu: a * a, uv: (2 * random() - 1) * a * b, vv: b * b };
      const map = deposit({ u: 10 + 4 * random(), v: 8 + 4 * random(), ...shape }, 7);
      const whole = 6.2 * Math.max(a, b) < 8;
      if (whole) expect(Math.abs(sum(map) / 7 - 1)).toBeLessThan(1e-12);
      else expect(sum(map)).toBeLessThan(7 * (1 + 1e-5));
      expect(Math.min(...map)).toBeGreaterThanOrEqual(-1e-15);
    }
  });

  it('beyond the map nothing is added', () => {
    for (const u of [-40, 70]) {
      expect(sum(deposit({ u, v: 10, uu: 2, uv: 0, vv: 2 }))).toBe(0);
      expect(sum(deposit({ u: 12, v: u, uu: 2, uv: 0, vv: 2 }))).toBe(0);
      expect(sum(deposit({ u, v: 10, uu: 0.1, uv: 0, vv: 0.1 }))).toBe(0);
    }
  });
});
