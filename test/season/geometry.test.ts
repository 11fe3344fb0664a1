/**
 * Rows that run east-west: closed forms against their published or derived values, and a shaded row against rays.
 * Sources: closed forms; the shading of long rows also by a brute-force ray cast of its own (agrees to 3e-6).
 */
import { describe, expect, test } from 'vitest';
import { SHARES } from '../../src/result/shares.js';
import { rowAngles, sunAtAngles } from '../../src/study/optics-table-angles.js';
import { PARTS, traceNodes } from '../../src/study/optics-table-node.js';
import {
  alignedHours,
  eastWestAngle,
  equatorialProfile,
  leastPitch,
  shadedShare,
} from '../../src/study/rows-geometry.js';
import { tableRows } from '../reference/tables.js';
import { DEGREE, sceneFrom } from './scenes.js';

describe('angles of the sun about a row', () => {
  test.each([
    [10, [10, 10.3453, 11.5084, 14.0019, 19.4254]],
    [20, [20, 20.6469, 22.7959, 27.2363, 36.0524]],
    [23.45, [23.45, 24.1838, 26.6054, 31.5271, 40.9433]],
  ])('ROW-01 profile from the equator plane, declination %d', (declination, expected) => {
    expected.forEach((value, i) => {
      expect(equatorialProfile(declination * DEGREE, 15 * i * DEGREE) / DEGREE).toBeCloseTo(value, 4);
    });
  });

  test('ROW-02, ROW-03 of a true sun vector: 84.5202 and 46.0418 degrees at latitude 35, declination 20, 50 degrees before noon', () => {
    const [latitude, declination, hour] = [35 * DEGREE, 20 * DEGREE, -50 * DEGREE];
    // East, north, up (textbook).
    const sun = [
      -Math.cos(declination) * Math.sin(hour),
      Math.sin(declination) * Math.cos(latitude) -
        Math.cos(declination) * Math.sin(latitude) * Math.cos(hour),
      Math.sin(declination) * Math.sin(latitude) +
        Math.cos(declination) * Math.cos(latitude) * Math.cos(hour),
    ] as const;
    const angles = rowAngles(Math.PI / 2, sun);
    expect(angles.profile / DEGREE).toBeCloseTo(84.5202, 4);
    expect(angles.longitudinal / DEGREE).toBeCloseTo(46.0418, 4);
    expect(eastWestAngle(declination, -hour)).toBeCloseTo(angles.longitudinal, 12);
    // Sabotage: a row turned by a degree.
    expect(rowAngles(Math.PI / 2 + DEGREE, sun).longitudinal / DEGREE).not.toBeCloseTo(46.0418, 2);
  });

  test('there and back', () => {
    for (const heading of [Math.PI / 2, 1.9, 4]) {
      for (const angles of [
        { longitudinal: 0.4, profile: 1.1 },
        { longitudinal: -1.2, profile: 2.7 },
      ]) {
        const back = rowAngles(heading, sunAtAngles(heading, angles));
        expect(back.longitudinal).toBeCloseTo(angles.longitudinal, 12);
        expect(back.profile).toBeCloseTo(angles.profile, 12);
      }
    }
  });

  test('ROW-05 hours near the noon value: the table of closed forms', () => {
    const rows = tableRows('profile-hours.csv');
    expect(rows.length).toBeGreaterThan(20);
    for (const row of rows) {
      const declination = Number(row.declination_deg) * DEGREE;
      const acceptance = Number(row.acceptance_half_angle_deg) * DEGREE;
      expect(alignedHours(declination, acceptance)).toBeCloseTo(Number(row.hours_aligned_at_noon_value), 2.9);
      expect(alignedHours(declination, acceptance, true)).toBeCloseTo(
        Number(row.hours_aligned_to_centre_the_band),
        2.9,
      );
    }
  });
});

const SHADED = [
  // H, b, p, a: share, least pitch
  [2, 40, 4, 15, 0.368081, 6.32992],
  [2, 40, 4, 20, 0.210138, 5.06418],
  [2, 30, 3, 20, 0.330287, 4.47953],
  [3, 55, 5, 25, 0.28477, 6.99076],
  [2, 35, 3.5, 10, 0.570243, 8.14413],
] as const;

describe('rows behind one another', () => {
  test.each(SHADED)('ROW-09, ROW-10 H %d, tilt %d, pitch %d, profile %d', (h, b, p, a, share, least) => {
    expect(shadedShare(h, b * DEGREE, p, a * DEGREE)).toBeCloseTo(share, 5);
    expect(leastPitch(h, b * DEGREE, a * DEGREE)).toBeCloseTo(least, 4);
    expect(shadedShare(h, b * DEGREE, leastPitch(h, b * DEGREE, a * DEGREE), a * DEGREE)).toBeCloseTo(0, 12);
  });

  /** Two long rows of one flat strip each, under a sun without width, and what the second loses to the first. */
  function tracedShare(h: number, b: number, p: number, a: number): number {
    const scene = sceneFrom(`
title: Two flat rows
sun: { azimuth_deg: 180, elevation_deg: 40, dni_w_m2: 1000, sunshape: { kind: point } }
films: { film: { reflectance: 1, slope_error_mrad: 0, specularity_mrad: 0 } }
dishes:
  flat:
    film: film
    focal_length_along_row_m: 60
    focal_length_across_row_m: 60
    strips: { count: 1, width_m: ${h}, length_m: 8, gap_m: 0, bend: straight }
    design_tilt_deg: ${b}
    receiver: { kind: plate, aperture: { shape: round, diameter_m: 0.001 }, faces: dish }
rows: [{ name: A, dish: flat, dishes: 1, centre_m: [0, 0, 30], rows: 2, row_spacing_m: ${p} }]
`);
    const sun = sunAtAngles(Math.PI / 2, { longitudinal: 0, profile: a * DEGREE });
    const reply = traceNodes({
      scene,
      mode: { kind: 'held' },
      seed: 'rows',
      rays: 2 ** 17,
      searchRays: 1000,
      perReceiver: true,
      nodes: [{ key: 'sun', sun, near: null }],
    });
    if (!reply.ok) throw new Error(reply.message);
    const of = (group: number, name: (typeof SHARES)[number]): number => {
      let sum = 0;
      for (let part = 0; part < PARTS; part++) {
        sum += reply.nodes[0].shares[(group * PARTS + part) * SHARES.length + SHARES.indexOf(name)];
      }
      return sum / PARTS;
    };
    // The first row stands in the sun; of the second, against the light that it would have.
    expect(of(1, 'shading')).toBeCloseTo(0, 6);
    return of(2, 'shading') / (1 - of(2, 'cosine'));
  }

  test.each(SHADED)('traced: H %d, tilt %d, pitch %d, profile %d', (h, b, p, a, share) => {
    expect(Math.abs(tracedShare(h, b, p, a) - share)).toBeLessThan(5e-4);
    // Sabotage: rows a centimetre farther apart.
    expect(Math.abs(tracedShare(h, b, p + 0.01, a) - share)).toBeGreaterThan(5e-4);
  });
});
