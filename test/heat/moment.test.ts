/** Heat at a moment: books, closed forms, limits. */
import { beforeAll, describe, expect, test } from 'vitest';
import type { Scene } from '../../src/scene/types.js';
import { heatAt } from '../../src/study/heat-at.js';
import { linesGap } from '../../src/study/heat-ledger.js';
import { heatPlant, PlantError, withOpening } from '../../src/study/heat-plant.js';
import type { HeatMoment } from '../../src/study/heat-types.js';
import { clockOf } from '../../src/sun/clock.js';
import { skyOf } from '../../src/sun/sky.js';
import { demoScene, smallScene } from './scenes.js';

const NOON = Date.UTC(2026, 2, 20, 12, 24);

function at(scene: Scene, time = NOON, following = true): Promise<HeatMoment> {
  if (scene.site === null) throw new Error('the scene has no site');
  return heatAt({
    scene,
    plant: heatPlant(scene),
    mode: { kind: following ? 'following' : 'held' },
    sky: skyOf(scene, null),
    clock: clockOf(scene.site),
    time,
    seed: 'test',
    rays: 2 ** 16,
  });
}

let row: HeatMoment;

beforeAll(async () => {
  row = await at(demoScene('heat-points'));
}, 60_000);

describe('a moment', () => {
  test('the waterfall closes, from the beam on the mirrors to the heat of the string', () => {
    expect(Math.abs(linesGap(row.waterfall_w))).toBeLessThan(1e-9);
    expect(Math.abs(linesGap(row.waterfall_w.filter(({ key }) => key !== 'conduction')))).toBeGreaterThan(
      1e-3,
    );
  });

  test('the oil takes up what is delivered', () => {
    // Eight receivers in a string, heat capacity between 142 and 158 C of the table: 1.99 to 2.04 kJ/kg K.
    const perKelvin = row.delivered_w.best / (0.12 * (row.outlet_c.best - 142));
    expect(perKelvin).toBeGreaterThan(1980);
    expect(perKelvin).toBeLessThan(2050);
  });

  test('the hardest receiver: losses and useful heat sum to its light', () => {
    const { hardest } = row;
    const sum =
      hardest.reflected_w +
      hardest.radiation_w +
      hardest.convection_w +
      hardest.conduction_w +
      hardest.useful_w.best;
    expect(Math.abs(sum / hardest.light_w - 1)).toBeLessThan(1e-9);
    expect(hardest.convection_formulas.still_air.length).toBeGreaterThanOrEqual(2);
    expect(hardest.useful_w.low).toBeLessThan(hardest.useful_w.high);
    expect(hardest.hottest_wall_c.best).toBeGreaterThan(hardest.film_temperature_c.best);
    expect(hardest.film_temperature_c.best).toBeGreaterThan(hardest.wall_c);
  });

  test('radiation of the opening by the closed form', async () => {
    const plant = heatPlant(demoScene('heat-points'));
    const wall = row.hardest.wall_c + 273.15;
    // Wall 0.85, opening 0.25 m wide in a cup 0.32 m wide and 0.2 m deep: effective emittance by the ratio of areas.
    const opening = (Math.PI / 4) * 0.25 ** 2;
    const cup = Math.PI * 0.32 * 0.2 + 2 * (Math.PI / 4) * 0.32 ** 2 - opening;
    const emittance = 0.85 / (0.85 + 0.15 * (opening / cup));
    const watts = emittance * 5.670374419e-8 * opening * (wall ** 4 - (row.ambient_c + 273.15) ** 4);
    expect(Math.abs(row.hardest.radiation_w / watts - 1)).toBeLessThan(1e-6);
    expect(plant.receivers).toBe(8);
  });

  test('less flow, hotter oil film; below the least flow it passes the limit less its margin', async () => {
    const { least_flow_kg_s, film_temperature_c } = row.hardest;
    expect(least_flow_kg_s).not.toBeNull();
    const slow = await at(demoScene('heat-points', [`heat.oil.flow_kg_s=${0.9 * least_flow_kg_s!}`]));
    expect(slow.hardest.film_temperature_c.best).toBeGreaterThan(film_temperature_c.best);
    expect(slow.cautions.some((line) => line.includes('is less than the'))).toBe(true);
    expect(row.cautions.some((line) => line.includes('is less than the'))).toBe(false);
  }, 60_000);

  test('twice the wall behind the spot, about twice the time', async () => {
    // The oil behind it counts too, so a little less than twice.
    const thick = await at(demoScene('heat-points', ['heat.receiver_metal_kg=8', 'heat.receiver_oil_kg=0']));
    const thin = await at(demoScene('heat-points', ['heat.receiver_metal_kg=4', 'heat.receiver_oil_kg=0']));
    if (thin.hardest.minutes_to_film_limit === null || thick.hardest.minutes_to_film_limit === null) {
      expect(thin.hardest.stagnation_c!.high).toBeLessThan(375);
      return;
    }
    expect(thick.hardest.minutes_to_film_limit / thin.hardest.minutes_to_film_limit).toBeCloseTo(2, 6);
  }, 60_000);

  test('night is refused, in words', async () => {
    await expect(at(demoScene('heat-points'), Date.UTC(2026, 2, 20, 0, 0))).rejects.toThrow(
      /no beam irradiance at 2026-03-20 01:00/,
    );
  });
});

describe('a plant that cannot be', () => {
  test.each([
    ['a cup narrower than its opening', ['heat.cavity.inside_diameter_m=0.2'], /less than its opening/],
    [
      'an oil of which only limits are known',
      ['heat.oil.name=synthetic_hydrocarbon'],
      /only the limits are known/,
    ],
  ])('%s', (_, sets, message) => {
    expect(() => heatPlant(demoScene('heat-points', sets))).toThrow(message);
  });

  test('a scene without heat, a tube with another opening', () => {
    expect(() => heatPlant(demoScene('day-row'))).toThrow(PlantError);
    const plant = heatPlant(smallScene());
    expect(withOpening(plant, 0.5).receiver.shape).toMatchObject({ openingDiameter: 0.125 });
  });
});
