/** A day's symmetries: morning and afternoon at the equinox, and the same row on the other side of the equator. */
import { describe, expect, it } from 'vitest';
import type { Figure } from '../../src/result/types.js';
import type { DayStudy } from '../../src/study/day-types.js';
import { sceneOf } from '../support/trace-text.js';
import { dayOf } from './days.js';

/** A row of three plain dishes; invented numbers. `south`: turned half about, at the same latitude south. */
function row(south: boolean, tilt = 35, heading = 90): string {
  return `
title: Three dishes
site: { name: Tarn Hollow (invented), latitude_deg: ${south ? -35 : 35}, longitude_deg: 12, height_m: 300 }
sky: { kind: hottel }
sun: { azimuth_deg: 180, elevation_deg: 55, dni_w_m2: 850, sunshape: { kind: gaussian, sigma_mrad: 3 } }
films: { roll_a: { reflectance: 0.84, slope_error_mrad: 4, specularity_mrad: 1.5 } }
dishes:
  five:
    film: roll_a
    focal_length_along_row_m: 1.6
    focal_length_across_row_m: 1.6
    strips: { count: 5, width_m: 0.18, length_m: 1, gap_m: 0.02, direction: along_row, bend: parabola, bend_fit: each_strip }
    rib: flat
    design_tilt_deg: ${tilt}
    receiver:
      kind: cavity
      aperture: { shape: round, diameter_m: 0.2 }
      window: { width_m: 0.5, height_m: 0.5 }
      cells: 20
      body: null
rows:
  - { name: A, dish: five, dishes: 3, pitch_m: 1.2, heading_deg: ${south ? heading + 180 : heading}, centre_m: [0, 0, 1.2] }
ground: { height_m: 0 }
`;
}

const HOURS = [-0.3, -0.15, 0.15, 0.3];

/** Receivers held where noon's light goes: at these hours part of it has left them. */
function day(text: string, date = '2026-03-20', minutes = 0): Promise<DayStudy> {
  return dayOf(sceneOf(text), {
    date,
    at: HOURS.map((hour) => 12 + hour + minutes / 60),
    rays: 2 ** 18,
    seed: `day ${date}`,
  });
}

type Read = (study: DayStudy, step: number) => Figure;
const spill: Read = ({ result }, step) => result.steps[step].figures.spill_fraction;
const concentration: Read = ({ result }, step) => result.steps[step].figures.concentration_ratio;
const shaded: Read = ({ result }, step) => result.steps[step].figures.shaded_fraction;

/** Standard errors apart; the sun's own way through the day (0.05 degrees of declination between the hours) is allowed for. */
function apart(one: Figure, other: Figure, allowed: number): number {
  return (
    Math.max(0, Math.abs(one.value - other.value) - allowed * Math.abs(one.value)) /
    Math.hypot(one.std_err, other.std_err)
  );
}

describe('at the equinox', () => {
  it('morning and afternoon are alike; a clock a minute off is not', async () => {
    const study = await day(row(false));
    for (const read of [spill, concentration, shaded]) {
      for (const step of [0, 1]) {
        const [morning, afternoon] = [read(study, step), read(study, HOURS.length - 1 - step)];
        expect(apart(morning, afternoon, 0.01)).toBeLessThan(4);
      }
    }
    const wrong = await day(row(false), '2026-03-20', 1);
    const [first, last] = [wrong.result.steps[0], wrong.result.steps[HOURS.length - 1]];
    expect(apart(first.figures.spill_fraction, last.figures.spill_fraction, 0.01)).toBeGreaterThan(4);
  }, 60_000);
});

describe('south of the equator', () => {
  it.each([
    ['2026-06-21', '2026-12-21', 35 + 23.44],
    ['2026-12-21', '2026-06-21', 35 - 23.44],
  ])(
    'the row turned half about does on %s what it does in the north on %s, morning for afternoon',
    async (here, there, tilt) => {
      const north = await day(row(false, tilt), there);
      const south = await day(row(true, tilt), here);
      for (const read of [spill, concentration, shaded]) {
        for (const step of HOURS.keys()) {
          expect(apart(read(north, step), read(south, HOURS.length - 1 - step), 0.01)).toBeLessThan(4);
        }
      }
      // Fault: a row 2 degrees out of its heading.
      const turned = await day(row(true, tilt, 92), here);
      const worst = Math.max(
        ...HOURS.map((_, step) => apart(spill(north, step), spill(turned, HOURS.length - 1 - step), 0.01)),
      );
      expect(worst).toBeGreaterThan(4);
    },
    60_000,
  );
});
