import { describe, expect, it } from 'vitest';
import { octaveLookup } from '../../src/kernel/octave.js';
import type { SunshapeSpec } from '../../src/scene/types.js';
import {
  axisSigma,
  circumsolarChi,
  circumsolarRatioOf,
  energyInside,
  meanCosine,
  radiance,
  sunshapeLimit,
  sunshapeProfile,
  sunshapeTable,
} from '../../src/sun/sunshape.js';
import { chiSquare, sidakLevel, testBits } from '../support/chi-square.js';

const MRAD = 1e-3;
const DISC: SunshapeSpec = { kind: 'disc', halfAngle: 4.65 * MRAD };

function limb(darkening: number): SunshapeSpec {
  return { kind: 'limb_darkened', halfAngle: 4.65 * MRAD, darkening };
}

function circumsolar(circumsolarRatio: number): SunshapeSpec {
  return { kind: 'circumsolar', circumsolarRatio };
}

/** Circumsolar sunshape with the formula's own chi. */
function withChi(chi: number): SunshapeSpec {
  return circumsolar(circumsolarRatioOf(chi));
}

function expectWithin(value: number, expected: number, tolerance: number): void {
  expect(Math.abs(value - expected)).toBeLessThanOrEqual(tolerance);
}

/** Power of a uniform disc of 4.65 mrad. */
const DISC_POWER = Math.PI * Math.sin(4.65 * MRAD) ** 2;

describe('uniform disc (closed form)', () => {
  it('has radial rms 3.28805 and per-axis sigma 2.32500 mrad', () => {
    expectWithin(axisSigma(DISC) / MRAD, 2.325, 1e-5);
    expectWithin((axisSigma(DISC) * Math.SQRT2) / MRAD, 3.28805, 1e-5);
  });

  it('has radiance 14721.3 per sr for a unit irradiance, solid angle 6.7929e-5 sr', () => {
    const { power } = sunshapeProfile(DISC);
    expectWithin(1 / power / 14721.3, 1, 1e-4);
    expectWithin((2 * Math.PI * (1 - Math.cos(4.65 * MRAD))) / 6.7929e-5, 1, 1e-4);
    expectWithin(power / 6.7929e-5, 1, 1e-4);
  });

  it('holds a quarter of its light within half its angle', () => {
    expectWithin(energyInside(DISC, 2.325 * MRAD), 0.25, 1e-5);
    expect(energyInside(DISC, 4.65 * MRAD)).toBe(1);
    expectWithin(energyInside(DISC, 0), 0, 1e-14);
  });

  it('puts 0.60900 of its light within half its angle on one axis', () => {
    // (2/pi)(u sqrt(1-u^2) + asin u), u = 0.5; here by summing over equal shares of the inverse table and the turn.
    const { inverseTail } = sunshapeProfile(DISC);
    const shares = 200_000;
    let inside = 0;
    for (let index = 0; index < shares; index++) {
      const ratio = (2.325 * MRAD) / Math.asin(Math.sqrt(inverseTail((index + 0.5) / shares)));
      inside += ratio >= 1 ? 1 : (2 / Math.PI) * Math.asin(ratio);
    }
    expectWithin(inside / shares, 0.609, 1e-5);
  });

  it('has the mean cosine 1 - theta^2 / 4 to leading order', () => {
    expectWithin(meanCosine(DISC), 1 - (4.65 * MRAD) ** 2 / 4, 1e-10);
  });
});

describe('linear limb darkening (closed form and quadrature)', () => {
  it.each([
    [0.5, 0.83333, 3.15378, 2.23006],
    [0.56, 0.81333, 3.13349, 2.21571],
    [0.6, 0.8, 3.11931, 2.20569],
  ])('u = %d: mean over centre %d, radial rms %d, per axis %d mrad', (u, mean, radial, axis) => {
    const { power } = sunshapeProfile(limb(u));
    expectWithin(power / DISC_POWER, mean, 1e-5);
    expectWithin((axisSigma(limb(u)) * Math.SQRT2) / MRAD, radial, 1e-5);
    expectWithin(axisSigma(limb(u)) / MRAD, axis, 1e-5);
  });

  it('sabotage: a darkening off by 0.001 misses those figures', () => {
    expect(Math.abs(axisSigma(limb(0.561)) / MRAD - 2.21571)).toBeGreaterThan(1e-5);
  });
});

describe('table', () => {
  it('follows a quartic limb darkening: mean over centre 0.82873, per axis 2.20160 mrad', () => {
    // 1 - 0.5138 (theta/theta_s)^4, formula from memory, integral by quadrature. The table is piecewise linear: 400 steps.
    const angle = Array.from({ length: 401 }, (_unused, index) => (index / 400) * 4.65 * MRAD);
    const table: SunshapeSpec = {
      kind: 'table',
      angle,
      radiance: angle.map((theta) => 1 - 0.5138 * (theta / (4.65 * MRAD)) ** 4),
    };
    expectWithin(sunshapeProfile(table).power / DISC_POWER, 0.82873, 1e-5);
    expectWithin(axisSigma(table) / MRAD, 2.2016, 1e-5);
    expect(sunshapeLimit(table)).toBeCloseTo(4.65 * MRAD, 15);
    expectWithin(radiance(table, 2.325 * MRAD), 1 - 0.5138 / 16, 1e-5);
    expect(radiance(table, 4.7 * MRAD)).toBe(0);
  });

  it('without any light is refused', () => {
    expect(() => sunshapeTable({ kind: 'table', angle: [0, 0.004], radiance: [0, 0] })).toThrow(RangeError);
  });
});

describe('Gaussian', () => {
  const sigma = 3 * MRAD;
  const bell: SunshapeSpec = { kind: 'gaussian', sigma };

  it('has its sigma per axis, is cut at 6 sigma and holds 1 - exp(-r^2 / 2) within r sigma', () => {
    // sin(theta) cos(theta) against theta: 1e-5 relative at 3 mrad.
    expectWithin(axisSigma(bell) / sigma, 1, 1e-4);
    expect(sunshapeLimit(bell)).toBeCloseTo(6 * sigma, 15);
    for (const r of [0.5, 1, 2, 3, 4]) {
      expectWithin(energyInside(bell, r * sigma), 1 - Math.exp((-r * r) / 2), 2e-5);
    }
    expectWithin(radiance(bell, sigma), Math.exp(-0.5), 1e-15);
  });
});

// Buie, Monger & Dey, Solar Energy 74 (2003) 113; formula from memory, cross-checked by the angle of the largest
// phi(t) sin t, for which a public discussion of the formula gives 3.89157 mrad.
describe('circumsolar model', () => {
  it.each([
    [1, 0.994112],
    [2, 0.973874],
    [3, 0.927069],
    [4, 0.793263],
    [4.5, 0.563875],
    [4.65, 0.397159],
  ])('disc at %d mrad: %d', (milliradians, expected) => {
    expectWithin(radiance(circumsolar(0.05), Number(`${milliradians}e-3`)), expected, 1e-5);
  });

  it('has the largest phi(t) sin t at 3.89158 mrad', () => {
    let best = 0;
    let largest = 0;
    for (let t = 3.8; t < 4; t += 1e-5) {
      const value = radiance(circumsolar(0), t * MRAD) * Math.sin(t * MRAD);
      if (value > largest) {
        largest = value;
        best = t;
      }
    }
    expectWithin(best, 3.89158, 1e-4);
  });

  it('disc alone: 57.9608 mrad^2, 0.85325 of a uniform disc, 2.22035 mrad per axis', () => {
    const { power } = sunshapeProfile(circumsolar(0));
    expectWithin(power / MRAD ** 2 / 57.9608, 1, 1e-4);
    expectWithin(power / DISC_POWER, 0.85325, 1e-4);
    expectWithin(axisSigma(circumsolar(0)) / MRAD, 2.22035, 1e-4);
    expect(sunshapeLimit(circumsolar(0))).toBeCloseTo(4.65 * MRAD, 15);
    expect(sunshapeLimit(circumsolar(0.1))).toBeCloseTo(43.6 * MRAD, 15);
  });

  it.each([
    [0.02, -3.810515, -1.968085],
    [0.05, -0.868943, -2.314277],
    [0.1, 0.538909, -2.516586],
    [0.2, 1.448748, -2.592413],
  ])('aureole for chi %d: kappa %d, gamma %d', (chi, kappa, gamma) => {
    const sun = withChi(chi);
    const near = Math.log(radiance(sun, 5 * MRAD));
    const far = Math.log(radiance(sun, 40 * MRAD));
    const slope = (far - near) / Math.log(8);
    expectWithin(slope, gamma, 1e-5);
    expectWithin(near - slope * Math.log(5), kappa, 1e-5);
  });

  it.each([
    [0.05, [0.010116, 0.006634, 0.003409, 0.002034, 4.09e-4, 6.736e-5]],
    [0.1, [0.029856, 0.01887, 0.009148, 0.005217, 9.118e-4, 1.283e-4]],
    [0.2, [0.065639, 0.040916, 0.019409, 0.010884, 1.805e-3, 2.393e-4]],
  ])('aureole brightness for chi %d', (chi, expected) => {
    // 1e-4 relative, and half a unit of the last printed digit where that is coarser.
    [5, 6, 8, 10, 20, 43.6].forEach((t, index) => {
      const digits = expected[index] < 1e-3 ? 10 ** (Math.floor(Math.log10(expected[index])) - 3) : 1e-6;
      const tolerance = Math.max(1e-4 * expected[index], digits / 2);
      expectWithin(radiance(withChi(chi), t * MRAD), expected[index], tolerance);
    });
  });

  it.each([
    [0.02, 0.00581],
    [0.05, 0.04313],
    [0.1, 0.10027],
    [0.15, 0.1454],
    [0.2, 0.18714],
    [0.3, 0.27426],
    [0.4, 0.37265],
  ])('chi %d has the true circumsolar ratio %d (quadrature)', (chi, ratio) => {
    expectWithin(circumsolarRatioOf(chi), ratio, 1e-4);
    expectWithin(1 - energyInside(withChi(chi), 4.65 * MRAD), ratio, 1e-4);
  });

  it.each([
    [0.02, 0.0326349],
    [0.05, 0.055266],
    [0.1, 0.0997282],
    [0.2, 0.2153777],
    [0.3, 0.3273671],
    [0.4, 0.4259811],
  ])('the true ratio %d needs chi %d', (ratio, chi) => {
    expectWithin(circumsolarChi(ratio), chi, 1e-5);
  });

  it.each([
    [circumsolar(0.05), 3.6003],
    [circumsolar(0.1), 4.36946],
    [circumsolar(0.2), 5.63085],
    [withChi(0.05), 3.46903],
    [withChi(0.1), 4.37305],
    [withChi(0.2), 5.46956],
  ])('case %#: sigma per axis of %j is %d mrad', (sun, sigma) => {
    expectWithin(axisSigma(sun) / MRAD / sigma, 1, 1e-3);
  });

  it.each([
    [0.05, [0.95687, 0.97513, 0.98827]],
    [0.1, [0.89973, 0.94753, 0.97718]],
    [0.2, [0.81286, 0.90578, 0.9603]],
  ])('chi %d: energy inside 4.65, 10 and 20 mrad', (chi, expected) => {
    // Quadrature; 5e-5 for its small-angle measure and the printed digits.
    [4.65, 10, 20].forEach((t, index) => {
      expectWithin(energyInside(withChi(chi), t * MRAD), expected[index], 5e-5);
    });
  });

  it.each([
    [0.02, 1.16517],
    [0.05, 1.12143],
    [0.1, 1.05447],
    [0.2, 0.95266],
  ])('chi %d: centre brightness over a uniform disc of equal irradiance is %d', (chi, ratio) => {
    expectWithin(DISC_POWER / sunshapeProfile(withChi(chi)).power, ratio, 1e-4);
  });

  it('sabotage: chi set equal to the ratio misses the ratio', () => {
    expect(Math.abs(circumsolarRatioOf(0.05) - 0.05)).toBeGreaterThan(1e-4);
  });

  it('serves ratios from one in a million to 0.6 and refuses others', () => {
    for (const ratio of [1e-6, 1e-3, 0.6])
      expectWithin(circumsolarRatioOf(circumsolarChi(ratio)), ratio, 1e-12);
    for (const ratio of [0, -0.1, 0.9, Number.NaN]) expect(() => circumsolarChi(ratio)).toThrow(RangeError);
  });
});

describe('sampled angles', () => {
  const DRAWS = 4_000_000;
  const CELLS = 93;
  const beyond = [0.01, 0.05, 0.2, 0.5, 1, 2, 4, 8, 15, 25];

  /** Chi-square p-value of angles drawn from one table against the profile of a sunshape. */
  function angleP(table: Float64Array, sun: SunshapeSpec, seed: number): number {
    const { limit, tail } = sunshapeProfile(sun);
    const core = Math.min(limit, 4.65 * MRAD);
    const edges = Array.from({ length: CELLS + 1 }, (_unused, index) => (index * core) / CELLS);
    for (const step of beyond) if (core + step * MRAD < limit) edges.push(core + step * MRAD);
    edges.push(limit, Number.POSITIVE_INFINITY);
    const squares = edges.map((edge) => (edge < 1 ? Math.sin(edge) ** 2 : 1));
    // Rounding may put the outermost draw a hair beyond the limit.
    squares[squares.length - 2] *= 1 + 1e-9;
    const counts = new Float64Array(edges.length - 1);
    const next = testBits(seed);
    for (let draw = 0; draw < DRAWS; draw++) {
      const square = octaveLookup(table, next() >>> 1);
      let low = 0;
      let high = counts.length - 1;
      while (low < high) {
        const middle = (low + high) >> 1;
        if (squares[middle + 1] <= square) low = middle + 1;
        else high = middle;
      }
      counts[low]++;
    }
    const shares = edges.map((edge) => tail(edge));
    const expected = counts.map((_count, cell) => DRAWS * (shares[cell] - shares[cell + 1]));
    return chiSquare(counts, expected).pValue;
  }

  const kinds: [string, SunshapeSpec][] = [
    ['disc', DISC],
    ['limb-darkened disc', limb(0.6)],
    ['disc dark at the limb', limb(1)],
    ['Gaussian', { kind: 'gaussian', sigma: 3 * MRAD }],
    ['circumsolar 0', circumsolar(0)],
    ['circumsolar 0.05', circumsolar(0.05)],
    ['circumsolar 0.3', circumsolar(0.3)],
    [
      'table',
      {
        kind: 'table',
        angle: [0, 0.003, 0.004, 0.006, 0.01, 0.02],
        radiance: [1, 0.9, 0.5, 0.05, 0.01, 0],
      },
    ],
  ];
  const level = sidakLevel(0.01, kinds.length);

  it.each(kinds)('of the %s sunshape pass the chi-square test', (_name, sun) => {
    expect(angleP(sunshapeTable(sun), sun, 21 + kinds.findIndex(([, kind]) => kind === sun))).toBeGreaterThan(
      level,
    );
  });

  it.each(kinds)('sabotage: of the %s sunshape with angles 1 % too wide fail', (_name, sun) => {
    const wide = sunshapeTable(sun).map((square) => square * 1.01 ** 2);
    expect(angleP(wide, sun, 31)).toBeLessThan(level);
  });

  it('sabotage: chi set equal to a circumsolar ratio of 0.05 fails', () => {
    expect(angleP(sunshapeTable(withChi(0.05)), circumsolar(0.05), 41)).toBeLessThan(level);
  });

  it('keep the share beyond the edge of the disc to 1e-5 of the light', () => {
    // The share beyond the edge, from the table itself over every cell of a regular sweep.
    const sun = circumsolar(0.3);
    const table = sunshapeTable(sun);
    const edge = Math.sin(4.65 * MRAD) ** 2;
    const sweep = 2 ** 22;
    let outside = 0;
    for (let index = 0; index < sweep; index++) {
      if (octaveLookup(table, index * 2 ** 9 + 2 ** 8) > edge) outside++;
    }
    expectWithin(outside / sweep, sunshapeProfile(sun).tail(4.65 * MRAD), 1e-5);
  });

  it('are all zero for a point sun', () => {
    expect(sunshapeTable({ kind: 'point' }).every((square) => square === 0)).toBe(true);
    expect(sunshapeLimit({ kind: 'point' })).toBe(0);
    expect(meanCosine({ kind: 'point' })).toBe(1);
    expect(axisSigma({ kind: 'point' })).toBe(0);
    expect(energyInside({ kind: 'point' }, 0)).toBe(1);
    expect(radiance({ kind: 'point' }, 0.001)).toBe(0);
  });
});

describe('mean cosine', () => {
  it.each([DISC, limb(0.6), { kind: 'gaussian', sigma: 0.003 } as const, circumsolar(0.2)])(
    'is the mean of cos(theta) over the table: %j',
    (sun) => {
      const table = sunshapeTable(sun);
      const sweep = 2 ** 20;
      let sum = 0;
      for (let index = 0; index < sweep; index++) {
        sum += Math.sqrt(1 - octaveLookup(table, index * 2 ** 11 + 2 ** 10));
      }
      expectWithin(sum / sweep, meanCosine(sun), 2e-9);
    },
  );
});
