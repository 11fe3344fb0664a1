/**
 * Paraboloid of revolution, focal length 1 m, under a sun straight above, on a flat disc in the focal plane.
 *
 * The textbook rows leave out the receiver's own shadow. Here the opening shades the mirror's middle, as it does in the sun:
 * 1e-5 to 2e-2 of the area, and that part catches nearly what the mean does. Worst case of the rows below, rim 15 with an
 * opening of 40 mm radius: 2 % of the mirror, intercept there and on the mean both 1 to 1e-3.
 *
 * Sources: closed form and quadrature, confirmed by independent traces; full intercept from the cone of the sun at the rim,
 * also in Rabl 1976 (from memory). Tables dish-gaussian-intercept.csv, dish-concentration.csv.
 */
import { describe, expect, test } from 'vitest';
import { describeField } from '../../src/field/describe.js';
import { layOut } from '../../src/field/layout.js';
import type { Summary } from '../../src/result/types.js';
import { momentOf } from '../../src/sun/direction.js';
import { sceneOf, traceText } from '../support/trace-text.js';
import { expectSound, interceptFactor, type ReferenceCase, testCases, wholeShare } from './agreement.js';
import { tableRows } from './tables.js';

const RADIANS = Math.PI / 180;
const HALF_ANGLE = 4.65;
const POINT_LIMIT = 46_248.45;
const PERFECT = { slope: 0, specularity: 0 };
const disc = (halfAngle = HALF_ANGLE) => `{ kind: disc, half_angle_mrad: ${halfAngle} }`;
const WIDER = 'a half angle of 1.02 x';

interface Dish {
  readonly rim: number;
  readonly sunshape: string;
  /** mrad */
  readonly film?: { readonly slope: number; readonly specularity: number };
  /** Radius of the opening, mm. */
  readonly radius: number;
}

function dishScene({ rim, sunshape, film = PERFECT, radius }: Dish): string {
  return `
title: A paraboloid and a disc in its focal plane
sun: { azimuth_deg: 180, elevation_deg: 90, dni_w_m2: 1000, sunshape: ${sunshape} }
films: { film: { reflectance: 1, slope_error_mrad: ${film.slope}, specularity_mrad: ${film.specularity} } }
facets:
  - name: dish
    film: film
    shape: { kind: paraboloid, focal_length_m: 1 }
    outline: { kind: round, diameter_m: ${4 * Math.tan((rim / 2) * RADIANS)} }
receivers:
  - { name: disc, kind: plate, aperture: { shape: round, diameter_m: ${radius / 500} }, cells: 8, position_m: [0, 0, 1] }
`;
}

const concentration = (summary: Summary) => summary.result.receivers[0].concentration_ratio;

describe('DSH-01 concentration in the centre: sin^2(rim) / sin^2(half angle)', () => {
  const rows = [
    [15, 3098.06],
    [30, 11_562.11],
    [45, 23_124.23],
    [60, 34_686.34],
    [90, 46_248.45],
  ] as const;
  // 1 % with a 2 mm disc: stated with the rows.
  testCases(
    rows.map(([rim, value]) => ({
      id: `DSH-01 rim ${rim}`,
      scene: dishScene({ rim, sunshape: disc(), radius: 1 }),
      rays: 131_072,
      checks: [{ label: 'concentration', expected: value, tolerance: 0.01 * value, read: concentration }],
      sabotage: [
        {
          fault: 'a half angle of 1.03 x',
          scene: dishScene({ rim, sunshape: disc(1.03 * HALF_ANGLE), radius: 1 }),
        },
      ],
      limit: POINT_LIMIT,
    })),
  );
  // Any sunshape: times SHP-17, here the circumsolar sun of chi 0.1, true ratio 0.10027.
  testCases([
    {
      id: 'DSH-01 rim 30 times SHP-17, circumsolar',
      scene: dishScene({
        rim: 30,
        sunshape: '{ kind: circumsolar, circumsolar_ratio: 0.10027 }',
        radius: 1,
      }),
      rays: 131_072,
      checks: [
        {
          label: 'concentration',
          expected: 11_562.11 * 1.05447,
          tolerance: 0.01 * 11_562.11 * 1.05447,
          read: concentration,
        },
      ],
      sabotage: [{ fault: 'an even disc', scene: dishScene({ rim: 30, sunshape: disc(), radius: 1 }) }],
    },
  ]);
});

describe('IMG-04 no concentration above 1 / sin^2(half angle)', () => {
  // The limit is reached by a rim of 90 degrees and held in every case of an ideal sun; a narrower sun breaks it.
  const atRim90 = (halfAngle: number) =>
    traceText(dishScene({ rim: 90, sunshape: disc(halfAngle), radius: 1 }), {
      rays: 131_072,
      seed: 'IMG-04',
    });
  test('IMG-04 held at a rim of 90 degrees', async () => {
    expectSound(await atRim90(HALF_ANGLE), POINT_LIMIT);
  });
  test('IMG-04 fails with a half angle of 0.97 x', async () => {
    const summary = await atRim90(0.97 * HALF_ANGLE);
    expect(() => expectSound(summary, POINT_LIMIT)).toThrow();
  });
});

describe('DSH-02 and DSH-03 full intercept of an ideal sun', () => {
  const rows = [
    [30, 8624.9],
    [45, 11_454.6],
    [60, 8532.3],
    [75, 2791],
  ] as const;
  const radii = new Map([
    [30, 5.77039],
    [45, 7.74042],
    [60, 12.50077],
  ]);
  const all = (id: string, rim: number, radius: number): ReferenceCase => ({
    id: `${id} rim ${rim}`,
    scene: dishScene({ rim, sunshape: disc(), radius }),
    rays: 131_072,
    checks: [{ label: 'inside', expected: 1, tolerance: 0, read: wholeShare }],
    sabotage: [
      { fault: 'an opening 3 % smaller', scene: dishScene({ rim, sunshape: disc(), radius: 0.97 * radius }) },
      {
        fault: 'a half angle of 1.04 x',
        scene: dishScene({ rim, sunshape: disc(1.04 * HALF_ANGLE), radius }),
      },
    ],
    limit: POINT_LIMIT,
  });
  testCases([
    // Concentration printed to five digits: 3e-5 of slack on the radius.
    ...rows.map(([rim, value]) => {
      const dish = 2 * Math.tan((rim / 2) * RADIANS);
      return all('DSH-02', rim, (1000 * dish * (1 + 3e-5)) / Math.sqrt(value));
    }),
    ...[...radii].map(([rim, radius]) => all('DSH-03', rim, radius + 5e-6)),
  ]);
  testCases(
    tableRows('dish-concentration.csv')
      .filter((row) => row.geom_conc_flat_disk_100pct !== '')
      .map((row) => {
        const rim = Number(row.rim_deg);
        const dish = 2 * Math.tan((rim / 2) * RADIANS);
        const radius = (1000 * dish * (1 + 3e-5)) / Math.sqrt(Number(row.geom_conc_flat_disk_100pct));
        return { ...all('dish-concentration.csv', rim, radius), sabotage: [] };
      }),
  );
});

describe('DSH-05 f/D = 1 / (4 tan(rim / 2))', () => {
  // What `check` prints, of a dish of one narrow strip bent along the row.
  const described = (size: number) => {
    const scene = sceneOf(`
title: One strip
sun: { azimuth_deg: 180, elevation_deg: 90, dni_w_m2: 1000 }
films: { film: { reflectance: 1, slope_error_mrad: 0, specularity_mrad: 0 } }
dishes:
  strip:
    film: film
    focal_length_along_row_m: 1
    focal_length_across_row_m: 1
    strips: { count: 1, width_m: 0.0001, length_m: ${size} }
    receiver: { kind: plate, aperture: { shape: round, diameter_m: 0.01 } }
rows: [{ name: A, dish: strip, dishes: 1 }]
`);
    const [dish] = describeField(scene, layOut(scene), momentOf(scene)).dishes;
    return { rim: dish.rimAngle / RADIANS, ratio: dish.focalRatioAlongRow };
  };
  test.each([
    [30, 0.933013],
    [45, 0.603553],
    [60, 0.433013],
    [90, 0.25],
  ])('DSH-05 rim %d: %d', (rim, ratio) => {
    const dish = described(1 / ratio);
    // The ratio is printed to six digits.
    expect(dish.ratio).toBeCloseTo(ratio, 12);
    expect(Math.abs(dish.rim - rim)).toBeLessThan(1e-4);
    expect(Math.abs(described(1.02 / ratio).rim - rim)).toBeGreaterThan(1e-4);
  });
});

describe('DSH-06 fraction of an ideal sun inside r = k f x half angle', () => {
  const factors = [0.5, 0.8, 1, 1.25, 1.5];
  const rows = [
    [30, [0.2176, 0.5571, 0.8705, 1, 1]],
    [45, [0.1821, 0.4663, 0.7286, 0.9447, 0.9959]],
    [60, [0.1406, 0.36, 0.5625, 0.7774, 0.8875]],
  ] as const;
  testCases(
    rows.flatMap(([rim, shares]) =>
      shares.map((expected, index): ReferenceCase => {
        const radius = factors[index] * HALF_ANGLE;
        return {
          id: `DSH-06 rim ${rim}, k ${factors[index]}`,
          scene: dishScene({ rim, sunshape: disc(), radius }),
          rays: 65_536,
          // 0.0005: stated with the rows.
          checks: [{ label: 'inside', expected, tolerance: 5e-4, read: interceptFactor }],
          sabotage:
            expected === 1
              ? []
              : [{ fault: WIDER, scene: dishScene({ rim, sunshape: disc(1.02 * HALF_ANGLE), radius }) }],
          limit: POINT_LIMIT,
        };
      }),
    ),
  );
});

/** Share of an elliptic Gaussian spot inside a circle about its centre, times the spot's 2 pi s1 s2 (trapezoid over the turn). */
function inCircle(radius: number, sigma1: number, sigma2: number): number {
  const steps = 64;
  let sum = 0;
  for (let step = 0; step < steps; step++) {
    const turn = (2 * Math.PI * (step + 0.5)) / steps;
    const narrow = (Math.cos(turn) / sigma1) ** 2 + (Math.sin(turn) / sigma2) ** 2;
    sum += (1 - Math.exp((-narrow * radius ** 2) / 2)) / narrow;
  }
  return (2 * Math.PI * sum) / steps;
}

/**
 * Mean over a disc relative to its centre of the flux that all rings of the dish send: what a disc of finite size must
 * read less than the centre. Ring at phi: weight sin(phi) p^2, spot p sigmaT / cos(phi) by p sigmaS, p = 2 / (1 + cos(phi)).
 */
function discOverCentre(
  rim: number,
  radius: number,
  tangential: number,
  sagittal: (phi: number) => number,
): number {
  let onDisc = 0;
  let atCentre = 0;
  const steps = 200;
  for (let step = 0; step < steps; step++) {
    const phi = (rim * RADIANS * (step + 0.5)) / steps;
    const path = 2 / (1 + Math.cos(phi));
    const sigma1 = (path * tangential) / Math.cos(phi);
    const sigma2 = path * sagittal(phi);
    const weight = (Math.sin(phi) * path ** 2) / (2 * Math.PI * sigma1 * sigma2);
    onDisc += (weight * inCircle(radius, sigma1, sigma2)) / (Math.PI * radius ** 2);
    atCentre += weight;
  }
  return onDisc / atCentre;
}

describe('Gaussian errors: concentration in the centre', () => {
  const scatter = (sigma: number) =>
    dishScene({ rim: 45, sunshape: '{ kind: point }', film: { slope: 0, specularity: sigma }, radius: 3 });
  const closed = 2500 * discOverCentre(45, 3, 10, () => 10);
  testCases([
    {
      id: 'DSH-07 isotropic 10 mrad, rim 45: sin^2(rim) / (2 sigma^2)',
      scene: scatter(10),
      rays: 262_144,
      // The tangent of an error in place of the angle: square of 10 mrad.
      checks: [{ label: 'concentration', expected: closed, tolerance: 1e-3 * closed, read: concentration }],
      sabotage: [{ fault: 'errors of 1.05 x', scene: scatter(10.5) }],
    },
  ]);

  const rows = [
    [1, 13_383.6],
    [2, 5912.8],
    [3, 3063.1],
    [5, 1204.9],
    [8, 486.1],
  ] as const;
  testCases(
    rows.map(([slope, centre]) => {
      const tangential = Math.hypot(2.325, 2 * slope);
      const sagittal = (phi: number) => Math.hypot(2.325, 2 * slope * Math.cos(phi / 2));
      const radius = 0.4 * tangential;
      const expected = centre * discOverCentre(30, radius, tangential, sagittal);
      const scene = (error: number) =>
        dishScene({
          rim: 30,
          sunshape: '{ kind: gaussian, sigma_mrad: 2.325 }',
          film: { slope: error, specularity: 0 },
          radius,
        });
      return {
        id: `DSH-08 rim 30, slope ${slope} mrad, sun 2.325`,
        scene: scene(slope),
        rays: 262_144,
        // 1 % with a small disc: stated with the rows.
        checks: [{ label: 'concentration', expected, tolerance: 0.01 * expected, read: concentration }],
        sabotage: [{ fault: 'a slope error of 1.05 x', scene: scene(1.05 * slope) }],
      };
    }),
  );
});

describe('Gaussian errors: intercept on a flat disc', () => {
  const gaussian = (
    id: string,
    rim: number,
    radius: number,
    film: { slope: number; specularity: number },
    expected: number,
  ): ReferenceCase => {
    const scene = (slope: number) =>
      dishScene({
        rim,
        sunshape: '{ kind: gaussian, sigma_mrad: 2.325 }',
        film: { ...film, slope },
        radius,
      });
    return {
      id: `${id} rim ${rim}, slope ${film.slope}, radius ${radius} mm`,
      scene: scene(film.slope),
      rays: 65_536,
      // 0.002: stated with the rows, which are of first order.
      checks: [{ label: 'intercept', expected, tolerance: 2e-3, read: interceptFactor }],
      sabotage: expected > 0.98 ? [] : [{ fault: 'a slope error of 1.1 x', scene: scene(1.1 * film.slope) }],
    };
  };
  const rows = [
    [30, [10, 20, 30], [0.6197, 0.9778, 0.9998]],
    [45, [10, 20, 30], [0.5542, 0.9507, 0.9977]],
    [60, [20, 30, 50], [0.8728, 0.9753, 0.9994]],
  ] as const;
  const film = { slope: 3, specularity: 2 };
  testCases(
    rows.flatMap(([rim, radii, shares]) =>
      radii.map((radius, index) => gaussian('DSH-11', rim, radius, film, shares[index])),
    ),
  );
  testCases(
    // The faults are put in at DSH-11.
    tableRows('dish-gaussian-intercept.csv').map((row) => ({
      ...gaussian(
        'dish-gaussian-intercept.csv',
        Number(row.rim_deg),
        1000 * Number(row.receiver_radius_m),
        {
          slope: Number(row.sigma_slope_mrad_per_axis),
          specularity: Number(row.sigma_spec_mrad_per_axis),
        },
        Number(row.intercept_first_order),
      ),
      sabotage: [],
    })),
  );
});
