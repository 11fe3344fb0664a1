import { describe, expect, it } from 'vitest';
import {
  FILM_REALS,
  M_LOBE_SHARE,
  M_SIGMA_1,
  M_SLOPE_ACROSS,
  M_SLOPE_ALONG,
  viewPrepared,
} from '../../src/kernel/layout.js';
import { FATES, Fate } from '../../src/kernel/tally.js';
import type { PreparedScene } from '../../src/prepare.js';
import type { Film, Vec3 } from '../../src/scene/types.js';
import { tallyOfBatch } from '../support/batch.js';
import { frameAlong, placedFacet, placedReceiver, prepareField, tubeDesign } from '../support/placed.js';
import {
  absorbedOf,
  curveAtAperture,
  incidentOf,
  momentsOfMap,
  raysOf,
  sumOf,
  wattsOf,
} from '../support/readings.js';
import { PERFECT_FILM } from '../support/scenes.js';

const LOG2_RAYS = 15;
const RAYS = 2 ** LOG2_RAYS;
const ROOT_HALF = Math.SQRT1_2;
const DROP = 2;

const SLOPE_ALONG = 3e-3;
const SLOPE_ACROSS = 5e-3;
const LOBES = [
  { weight: 0.7, sigma: 2e-3 },
  { weight: 0.3, sigma: 6e-3 },
] as const;

const FIRST: Film = { ...PERFECT_FILM, reflectance: { incidence: [0], value: [0.9] } };
const SECOND: Film = {
  ...PERFECT_FILM,
  reflectance: { incidence: [0], value: [0.8] },
  soilingFactor: 0.95,
  slopeErrorAlong: SLOPE_ALONG,
  slopeErrorAcross: SLOPE_ACROSS,
  lobes: LOBES,
};

/** Sun overhead, a small mirror turns the light level to the east, a second one turns it up to a plate 2 m higher. */
function periscope(second: Film): PreparedScene {
  return prepareField({
    films: [FIRST, second],
    facets: [
      placedFacet({
        frame: frameAlong([0, 0, 0], [1, 0, 1], [0, 1, 0]),
        outline: { kind: 'rectangle', length: 2e-4, width: 2e-4, centre: [0, 0] },
      }),
      // Its x axis lies in the plane of incidence.
      placedFacet({ film: 1, frame: frameAlong([1, 0, 0], [-1, 0, 1], [1, 0, 0]) }),
    ],
    receivers: [
      placedReceiver(
        {
          aperture: { shape: 'rectangle', width: 0.28, height: 0.28 },
          window: { width: 0.28, height: 0.28 },
          cells: [400, 400],
        },
        { origin: [1, 0, DROP], x: [1, 0, 0], y: [0, -1, 0], z: [0, 0, -1] },
      ),
    ],
  });
}

/** Only the first mirror launches rays. */
function traceFirst(prepared: PreparedScene, log2Rays = LOG2_RAYS, seed = 'periscope'): Float64Array {
  const log2 = new Int32Array(prepared.field.facets.length).fill(-1);
  log2[0] = log2Rays;
  return tallyOfBatch(prepared, log2, seed);
}

const WEIGHTS = LOBES.map((lobe) => lobe.weight);
/** Variance along u (tangential: 2 s) and along v (sagittal: 2 s cos 45) of each lobe's light, m2. */
const TANGENTIAL = LOBES.map((lobe) => DROP ** 2 * ((2 * SLOPE_ALONG) ** 2 + lobe.sigma ** 2));
const SAGITTAL = LOBES.map((lobe) => DROP ** 2 * ((2 * SLOPE_ACROSS * ROOT_HALF) ** 2 + lobe.sigma ** 2));
const mix = (values: readonly number[]) => values.reduce((sum, value, i) => sum + WEIGHTS[i] * value, 0);

/** Deviations of the second and fourth moments from their closed forms, in standard errors of independent rays. */
function deviations(prepared: PreparedScene): Record<string, number> {
  const moments = momentsOfMap(prepared, traceFirst(prepared), 0);
  const expected: Record<string, [number, number]> = {
    tangential: [2, 0],
    sagittal: [0, 2],
    correlation: [1, 1],
    fourthTangential: [4, 0],
    fourthSagittal: [0, 4],
    // The lobe is drawn once per ray, for both axes together.
    together: [2, 2],
  };
  const squares = TANGENTIAL.map((variance, i) => variance * SAGITTAL[i]);
  const eighth = (i: number, j: number) => moments.centred(2 * i, 2 * j);
  const closed: Record<string, number> = {
    tangential: mix(TANGENTIAL),
    sagittal: mix(SAGITTAL),
    correlation: 0,
    fourthTangential: 3 * mix(TANGENTIAL.map((variance) => variance ** 2)),
    fourthSagittal: 3 * mix(SAGITTAL.map((variance) => variance ** 2)),
    together: mix(squares),
  };
  return Object.fromEntries(
    Object.entries(expected).map(([name, [i, j]]) => {
      const value = moments.centred(i, j);
      const error = Math.sqrt((eighth(i, j) - value ** 2) / RAYS);
      return [name, Math.abs(value - closed[name]) / error];
    }),
  );
}

/** Largest deviation allowed, standard errors: six figures of a fixed seed. */
const ALLOWED = 3.5;

describe('second reflection', () => {
  it('spreads by 2 s tangentially, 2 s cos i sagittally, and by its lobe once', () => {
    for (const [name, deviation] of Object.entries(deviations(periscope(SECOND)))) {
      expect(deviation, name).toBeLessThan(ALLOWED);
    }
  });

  const faults: [string, string, (film: Float64Array, base: number) => void][] = [
    ['slope error along 7 % larger', 'tangential', (film, base) => (film[base + M_SLOPE_ALONG] *= 1.07)],
    ['slope error across 7 % larger', 'sagittal', (film, base) => (film[base + M_SLOPE_ACROSS] *= 1.07)],
    ['2 s both ways', 'sagittal', (film, base) => (film[base + M_SLOPE_ACROSS] /= ROOT_HALF)],
    ['lobe doubled', 'tangential', (film, base) => (film[base + M_SIGMA_1] *= 2)],
    ['lobes in other shares', 'fourthTangential', (film, base) => (film[base + M_LOBE_SHARE] = 0.8)],
  ];
  it.each(faults)('sabotage: %s is seen in %s', (_name, figure, spoil) => {
    const prepared = periscope(SECOND);
    spoil(viewPrepared(prepared.buffer).filmReals, FILM_REALS);
    expect(deviations(prepared)[figure]).toBeGreaterThan(ALLOWED);
  });

  it('takes its share of watts: launch, first film, second film', () => {
    const prepared = periscope(SECOND);
    const tally = traceFirst(prepared, 8);
    const incident = 1000 * 2e-4 ** 2 * ROOT_HALF;
    expect(incidentOf(prepared, tally) / incident).toBeCloseTo(1, 13);
    expect(absorbedOf(prepared, tally) / (incident * (0.1 + 0.9 * (1 - 0.8 * 0.95)))).toBeCloseTo(1, 12);
    expect(wattsOf(prepared, tally, Fate.Intercepted) / (incident * 0.9 * 0.8 * 0.95)).toBeCloseTo(1, 12);
    expect(raysOf(prepared, tally, Fate.Intercepted)).toBe(2 ** 8);
  });

  it('reads the reflectance table at the second incidence', () => {
    // 0.95 at normal incidence, 0.35 at grazing: 0.65 at 45 degrees.
    const table = { incidence: [0, Math.PI / 2], value: [0.95, 0.35] };
    const prepared = periscope({ ...PERFECT_FILM, reflectance: table });
    const tally = traceFirst(prepared, 4);
    const reached = wattsOf(prepared, tally, Fate.Intercepted);
    // The table is kept at 1024 steps of the cosine; between them it is off by under 1e-6 here.
    expect(reached / (incidentOf(prepared, tally) * 0.9 * 0.65)).toBeCloseTo(1, 6);
  });
});

const TUBE_RADIUS = 0.03;
const HELIOSTAT = { length: 0.2, width: 0.4 } as const;
const SIN_SUN = 0.5;
const COS_SUN = Math.sqrt(0.75);
const SECONDARY_REFLECTANCE = 0.8;
const SECONDARY_WIDTH = 0.05 * ROOT_HALF;

/** A level mirror sends a level-sided beam past a tube; beside the tube a tilted strip turns more of it in. */
function tubeWithSecondary(withStrip: boolean, bounceLimit = 4): PreparedScene {
  const beam: Vec3 = [-SIN_SUN, 0, COS_SUN];
  const side: Vec3 = [COS_SUN, 0, SIN_SUN];
  const focus: Vec3 = [0, 0, 2];
  const centre = focus.map((value, axis) => value + 0.065 * side[axis]) as unknown as Vec3;
  const normal = beam.map((value, axis) => -value - side[axis]) as unknown as Vec3;
  const strip = placedFacet({
    name: 'secondary',
    film: 1,
    frame: frameAlong(centre, normal, side),
    outline: { kind: 'rectangle', length: 0.05, width: 2, centre: [0, 0] },
  });
  return prepareField({
    bounceLimit,
    films: [
      PERFECT_FILM,
      { ...PERFECT_FILM, reflectance: { incidence: [0], value: [SECONDARY_REFLECTANCE] } },
    ],
    sun: [SIN_SUN, 0, COS_SUN],
    facets: [
      placedFacet({
        frame: frameAlong([(2 * SIN_SUN) / COS_SUN, 0, 0], [0, 0, 1], [1, 0, 0]),
        outline: { kind: 'rectangle', ...HELIOSTAT, centre: [0, 0] },
      }),
      ...(withStrip ? [strip] : []),
    ],
    receivers: [
      placedReceiver(
        { ...tubeDesign(2 * TUBE_RADIUS, 2), cells: [20, 24] },
        { origin: focus, x: [0, 1, 0], y: [-1, 0, 0], z: [0, 0, 1] },
      ),
    ],
  });
}

describe('a secondary mirror at a tube', () => {
  const incident = 1000 * HELIOSTAT.length * HELIOSTAT.width * COS_SUN;
  const beamWidth = HELIOSTAT.length * COS_SUN;
  const direct = (incident * 2 * TUBE_RADIUS) / beamWidth;
  const turned = (incident * SECONDARY_REFLECTANCE * SECONDARY_WIDTH) / beamWidth;
  // One lattice of 2^12 points over a strip with two edges in the light: a few points' worth.
  const edge = (4 * incident) / 2 ** 12;

  it('catches what closed geometry says, and more than none', () => {
    const without = tubeWithSecondary(false);
    const caught = wattsOf(without, traceFirst(without, 12), Fate.Intercepted);
    expect(Math.abs(caught - direct)).toBeLessThan(edge);
    const prepared = tubeWithSecondary(true);
    const tally = traceFirst(prepared, 12);
    expect(Math.abs(wattsOf(prepared, tally, Fate.Intercepted) - direct - turned)).toBeLessThan(edge);
    expect(turned).toBeGreaterThan(10 * edge);
  });

  it('counts light caught after passing by in the curve at the aperture, once', () => {
    const prepared = tubeWithSecondary(true);
    const tally = traceFirst(prepared, 12);
    const intercepted = wattsOf(prepared, tally, Fate.Intercepted);
    expect(curveAtAperture(prepared, tally, 0) / intercepted).toBeCloseTo(1, 12);
    const { curve, spot, moments, map, nu, nv } = prepared.layout.receivers[0];
    const passed = intercepted + wattsOf(prepared, tally, Fate.SpilledToSky);
    expect(sumOf(tally, curve, moments - spot) / passed).toBeCloseTo(1, 12);
    expect(sumOf(tally, spot, moments - spot) / passed).toBeCloseTo(1, 12);
    expect(sumOf(tally, map, nu * nv) / intercepted).toBeCloseTo(1, 12);
  });

  it('a limit of one mirror loses the turned light instead', () => {
    const prepared = tubeWithSecondary(true, 1);
    const tally = traceFirst(prepared, 12);
    expect(Math.abs(wattsOf(prepared, tally, Fate.Intercepted) - direct)).toBeLessThan(edge);
    expect(Math.abs(wattsOf(prepared, tally, Fate.Lost) - turned)).toBeLessThan(edge);
  });
});

describe('bounce limit', () => {
  const REFLECTANCE = 0.9;
  /** Light zigzags to the east between a mirror overhead and one on the ground: it meets one each 0.75 m. */
  function zigzag(bounceLimit: number): PreparedScene {
    const outline = { kind: 'rectangle', length: 6, width: 2, centre: [0, 0] } as const;
    return prepareField({
      bounceLimit,
      films: [{ ...PERFECT_FILM, reflectance: { incidence: [0], value: [REFLECTANCE] } }],
      sun: [-0.6, 0, 0.8],
      facets: [
        placedFacet({ outline: { kind: 'rectangle', length: 0.1, width: 0.1, centre: [0, 0] } }),
        placedFacet({ outline, frame: frameAlong([3.4, 0, 1], [0, 0, -1], [1, 0, 0]) }),
        placedFacet({ outline, frame: frameAlong([3.4, 0, 0], [0, 0, 1], [1, 0, 0]) }),
      ],
    });
  }

  it.each([1, 2, 4, 7])('%i: the ray is lost at the next mirror, after its film', (limit) => {
    const prepared = zigzag(limit);
    const tally = traceFirst(prepared, 5);
    const incident = 1000 * 0.01 * 0.8;
    expect(raysOf(prepared, tally, Fate.Lost)).toBe(32);
    expect(wattsOf(prepared, tally, Fate.Lost) / (incident * REFLECTANCE ** (limit + 1))).toBeCloseTo(1, 12);
    expect(absorbedOf(prepared, tally) / (incident * (1 - REFLECTANCE ** (limit + 1)))).toBeCloseTo(1, 12);
  });

  it('20: light that leaves the mirrors before is not lost', () => {
    const prepared = zigzag(20);
    const tally = traceFirst(prepared, 5);
    expect(raysOf(prepared, tally, Fate.SpilledToSky)).toBe(32);
    // Mirrors end at 6.4 m: eight meetings at 0.75 m steps after the launch.
    const reached = 1000 * 0.01 * 0.8 * REFLECTANCE ** 9;
    expect(wattsOf(prepared, tally, Fate.SpilledToSky) / reached).toBeCloseTo(1, 12);
    for (let fate = 0; fate < FATES; fate++) {
      if (fate !== Fate.SpilledToSky) expect(raysOf(prepared, tally, fate)).toBe(0);
    }
  });
});
