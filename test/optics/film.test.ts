import { describe, expect, it } from 'vitest';
import {
  FILM_CELLS,
  M_LOBE_SHARE,
  M_REFLECTANCE,
  M_SIGMA_1,
  M_SIGMA_2,
  viewPrepared,
} from '../../src/kernel/layout.js';
import { Fate } from '../../src/kernel/tally.js';
import { filmReflectance, reflectanceByCosine, scatterSigma } from '../../src/optics/film.js';
import type { PreparedScene } from '../../src/prepare.js';
import type { Film, Vec3 } from '../../src/scene/types.js';
import { evenLog2, tallyOfBatch } from '../support/batch.js';
import { placedFacet, placedReceiver, prepareField } from '../support/placed.js';
import { incidentOf, momentsOfMap, wattsOf } from '../support/readings.js';
import { PERFECT_FILM } from '../support/scenes.js';

const DEGREE = Math.PI / 180;

const TABLE: Film = {
  ...PERFECT_FILM,
  reflectance: { incidence: [0, 30 * DEGREE, 60 * DEGREE, 85 * DEGREE], value: [0.92, 0.915, 0.88, 0.6] },
  soilingFactor: 0.9,
  ageingFactor: 0.97,
};

describe('reflectance', () => {
  it('is linear in the angle between entries, constant beyond them, with both factors', () => {
    const factor = 0.9 * 0.97;
    const at = (degrees: number) => filmReflectance(TABLE, degrees * DEGREE);
    expect(at(0)).toBeCloseTo(0.92 * factor, 14);
    expect(at(15)).toBeCloseTo(0.9175 * factor, 14);
    expect(at(45)).toBeCloseTo(0.8975 * factor, 14);
    expect(at(60)).toBeCloseTo(0.88 * factor, 14);
    expect(at(72.5)).toBeCloseTo(0.74 * factor, 14);
    expect(at(85)).toBeCloseTo(0.6 * factor, 14);
    expect(at(90)).toBeCloseTo(0.6 * factor, 14);
    const late = { ...TABLE, reflectance: { incidence: [0.2, 0.4], value: [0.8, 0.6] } };
    expect(filmReflectance(late, 0)).toBeCloseTo(0.8 * factor, 14);
  });

  it('one entry is a constant', () => {
    const film = { ...PERFECT_FILM, reflectance: { incidence: [0], value: [0.7] }, soilingFactor: 0.5 };
    for (const angle of [0, 0.5, 1.2, Math.PI / 2]) expect(filmReflectance(film, angle)).toBe(0.35);
    expect([...reflectanceByCosine(film, 8)]).toEqual(new Array(9).fill(0.35));
  });

  /** Largest gap between the table by cosine, read as the trace loop reads it, and the film itself. */
  function worstGap(film: Film, cells: number, from: number): number {
    const table = reflectanceByCosine(film, cells);
    let worst = 0;
    for (let step = 0; step <= 20_000; step++) {
      const angle = from + (Math.PI / 2 - from) * (step / 20_000);
      const place = Math.cos(angle) * cells;
      const lower = Math.min(cells - 1, Math.floor(place));
      const read = table[lower] + (table[lower + 1] - table[lower]) * (place - lower);
      worst = Math.max(worst, Math.abs(read - filmReflectance(film, angle)));
    }
    return worst;
  }

  it('by cosine agrees with direct interpolation', () => {
    // At the corners of the table a cell cuts off part of the bend; the steepest bend here turns by 0.6 per radian.
    expect(worstGap(TABLE, FILM_CELLS, 5 * DEGREE)).toBeLessThan(2e-4);
    // Towards normal incidence a step of the cosine is a wide step of the angle: 2.5 degrees for the last cell.
    expect(worstGap(TABLE, FILM_CELLS, 0)).toBeLessThan(2e-4);
  });

  it('sabotage: a table of 16 cells is too coarse', () => {
    expect(worstGap(TABLE, 16, 5 * DEGREE)).toBeGreaterThan(2e-4);
  });

  /** A flat mirror under a slanting point sun, light free to the sky. */
  function reflectedShare(film: Film, incidence: number): number {
    const sun: Vec3 = [Math.sin(incidence), 0, Math.cos(incidence)];
    const scene = prepareField({
      films: [film],
      facets: [placedFacet()],
      sun,
      receivers: [placedReceiver({}, { origin: [0, 500, 0], x: [1, 0, 0], y: [0, 0, 1], z: [0, -1, 0] })],
    });
    const tally = tallyOfBatch(scene, evenLog2(scene, 4), 'share');
    return wattsOf(scene, tally, Fate.SpilledToSky) / incidentOf(scene, tally);
  }

  it.each([0, 10, 30, 45, 60, 70, 84])('a mirror at %i degrees keeps what the table says', (degrees) => {
    expect(
      Math.abs(reflectedShare(TABLE, degrees * DEGREE) - filmReflectance(TABLE, degrees * DEGREE)),
    ).toBeLessThan(2e-4);
  });

  it('sabotage: soiling counted twice is seen', () => {
    const share = reflectedShare({ ...TABLE, soilingFactor: 0.9 ** 2 }, 0.5);
    expect(Math.abs(share - filmReflectance(TABLE, 0.5))).toBeGreaterThan(2e-4);
  });
});

describe('lobes', () => {
  const ONE: Film = { ...PERFECT_FILM, lobes: [{ weight: 1, sigma: 3e-3 }] };
  const TWO: Film = {
    ...PERFECT_FILM,
    lobes: [
      { weight: 0.75, sigma: 1e-3 },
      { weight: 0.25, sigma: 8e-3 },
    ],
  };

  it('scatter of both lobes together: the weighted mean of the variances', () => {
    expect(scatterSigma(ONE)).toBeCloseTo(3e-3, 17);
    expect(scatterSigma(TWO)).toBeCloseTo(Math.sqrt(0.75 * 1e-6 + 0.25 * 64e-6), 17);
    expect(scatterSigma(PERFECT_FILM)).toBe(0);
  });

  const DISTANCE = 2;
  const LOG2_RAYS = 14;

  /** A speck of mirror throws a point sun's light straight up past nothing, on to a fine map 2 m above. */
  function thrown(film: Film): PreparedScene {
    const tilt = 0.2;
    const up: Vec3 = [Math.sin(tilt), 0, Math.cos(tilt)];
    return prepareField({
      films: [film],
      facets: [
        placedFacet({
          frame: { origin: [0, 0, 0], x: [up[2], 0, -up[0]], y: [0, 1, 0], z: up },
          outline: { kind: 'rectangle', length: 1e-4, width: 1e-4, centre: [0, 0] },
        }),
      ],
      sun: [Math.sin(2 * tilt), 0, Math.cos(2 * tilt)],
      receivers: [
        placedReceiver({
          aperture: { shape: 'rectangle', width: 0.2, height: 0.2 },
          window: { width: 0.2, height: 0.2 },
          cells: [400, 400],
        }),
      ],
    });
  }

  /** Variances along u and v and their product's mean, over closed forms, in standard errors of independent rays. */
  function deviations(scene: PreparedScene, film: Film): number[] {
    const moments = momentsOfMap(scene, tallyOfBatch(scene, evenLog2(scene, LOG2_RAYS), 'lobes'), 0);
    const mean = (power: number) =>
      film.lobes.reduce((sum, { weight, sigma }) => sum + weight * (sigma * DISTANCE) ** power, 0);
    const closed: [number, number, number][] = [
      [2, 0, mean(2)],
      [0, 2, mean(2)],
      [4, 0, 3 * mean(4)],
      [2, 2, mean(4)],
    ];
    return closed.map(([i, j, value]) => {
      const found = moments.centred(i, j);
      const error = Math.sqrt((moments.centred(2 * i, 2 * j) - found ** 2) / 2 ** LOG2_RAYS);
      return Math.abs(found - value) / error;
    });
  }

  // The lattice is more even than independent rays, so its deviations are smaller than 3.
  it.each([
    ['one lobe', ONE],
    ['two lobes', TWO],
  ] as const)('%s: rms and weights on the plate, per axis and once', (_name, film) => {
    for (const deviation of deviations(thrown(film), film)) expect(deviation).toBeLessThan(3);
  });

  const faults: [string, (reals: Float64Array) => void][] = [
    ['weights 0.8 and 0.2', (reals) => (reals[M_LOBE_SHARE] = 0.8)],
    [
      'sigmas exchanged',
      (reals) => ([reals[M_SIGMA_1], reals[M_SIGMA_2]] = [reals[M_SIGMA_2], reals[M_SIGMA_1]]),
    ],
    ['the wide lobe 5 % wider', (reals) => (reals[M_SIGMA_2] *= 1.05)],
  ];
  it.each(faults)('sabotage: %s', (_name, spoil) => {
    const scene = thrown(TWO);
    spoil(viewPrepared(scene.buffer).filmReals);
    expect(Math.max(...deviations(scene, TWO))).toBeGreaterThan(3);
  });

  it('packed: share, both sigmas, reflectances from grazing to normal', () => {
    const { filmReals } = viewPrepared(thrown({ ...TABLE, lobes: TWO.lobes }).buffer);
    expect([M_LOBE_SHARE, M_SIGMA_1, M_SIGMA_2].map((at) => filmReals[at])).toEqual([0.75, 1e-3, 8e-3]);
    expect(filmReals[M_REFLECTANCE]).toBeCloseTo(0.6 * 0.9 * 0.97, 14);
    expect(filmReals[M_REFLECTANCE + FILM_CELLS]).toBeCloseTo(0.92 * 0.9 * 0.97, 14);
  });
});
