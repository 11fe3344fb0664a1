/** Heat of a year: books, steps, rays, threads, openings, and what it rests on. */
import { beforeAll, describe, expect, test } from 'vitest';
import { followOne, linesGap } from '../../src/study/heat-ledger.js';
import { flatRange, summitOf } from '../../src/study/heat-opening.js';
import { heatPlant } from '../../src/study/heat-plant.js';
import { withSlopeErrors } from '../../src/study/heat-response.js';
import type { HeatStudy } from '../../src/study/heat-year.js';
import { summedCosine } from '../../src/study/line-points.js';
import { heatOf, smallScene, yearSuns } from './scenes.js';

const SCENE = smallScene();
let base: HeatStudy;

beforeAll(async () => {
  base = await heatOf(SCENE);
}, 120_000);

/** Relative difference of two years' heat. */
function apart(one: HeatStudy, other: HeatStudy): number {
  return Math.abs(one.year.delivered_kwh.best / other.year.delivered_kwh.best - 1);
}

describe('books', () => {
  test('the waterfall of the year and of each month closes', () => {
    const { waterfall_kwh, months } = base.year;
    expect(Math.abs(linesGap(waterfall_kwh))).toBeLessThan(1e-9);
    for (const month of months) expect(Math.abs(linesGap(month.waterfall_kwh))).toBeLessThan(1e-9);
  });

  test('sabotage: without its smallest loss it does not close', () => {
    const { waterfall_kwh } = base.year;
    expect(Math.abs(linesGap(waterfall_kwh.filter(({ key }) => key !== 'start_up')))).toBeGreaterThan(1e-3);
  });

  test('months sum to the year, line by line', () => {
    const { waterfall_kwh, months } = base.year;
    for (const [i, line] of waterfall_kwh.entries()) {
      const sum = months.reduce((total, month) => total + month.waterfall_kwh[i].value, 0);
      expect(Math.abs(sum - line.value)).toBeLessThan(1e-9 * waterfall_kwh[0].value);
    }
  });

  test('one kWh, followed step by step, ends at what is delivered', () => {
    const { waterfall_kwh, follow_one_kwh } = base.year;
    const delivered = waterfall_kwh.at(-1)!.value / waterfall_kwh[0].value;
    expect(follow_one_kwh[0].value).toBeCloseTo(1, 12);
    expect(Math.abs(follow_one_kwh.at(-1)!.value - delivered)).toBeLessThan(1e-9);
    const torn = followOne(waterfall_kwh.filter(({ key }) => key !== 'film'));
    expect(Math.abs(torn.at(-1)!.value - delivered)).toBeGreaterThan(0.01);
  });

  test('light caught is the same by the hours and by the table', () => {
    const { waterfall_kwh, caught_kwh } = base.year;
    const lost = ['cosine', 'shading', 'film', 'blocking', 'spill'];
    const optical = waterfall_kwh
      .filter(({ key }) => lost.includes(key))
      .reduce((sum, { value }) => sum + value, 0);
    expect(Math.abs((waterfall_kwh[0].value - optical) / caught_kwh.value - 1)).toBeLessThan(1e-9);
  });
});

describe('what the year must not hang on', () => {
  test('halving the time step moves it by less than 0.5 %', async () => {
    const half = await heatOf(SCENE, { sunStep: 10 });
    expect(half.year.step_minutes).toBe(10);
    expect(apart(half, base)).toBeLessThan(0.005);
  }, 120_000);

  test('sabotage: an hour of light booked into twenty minutes is seen', async () => {
    expect(apart(await heatOf(SCENE, { sunStep: 60, step: 1200 }), base)).toBeGreaterThan(0.05);
  }, 120_000);

  test('doubling rays and halving the tolerance of the table move it by less than its stated error allows, and 0.5 % of the light', async () => {
    const finer = await heatOf(SCENE, { rays: 4096, tolerance: 0.005 });
    expect(Math.abs(finer.year.caught_kwh.value / base.year.caught_kwh.value - 1)).toBeLessThan(0.005);
    const both = Math.hypot(finer.year.uncertainty.ray_std_err_kwh, base.year.uncertainty.ray_std_err_kwh);
    expect(Math.abs(finer.year.delivered_kwh.best - base.year.delivered_kwh.best)).toBeLessThan(3 * both);
  }, 240_000);

  test('sabotage: a film 1 % duller is seen', async () => {
    const duller = await heatOf(smallScene(['films.roll_a.ageing_factor=0.99']));
    expect(apart(duller, base)).toBeGreaterThan(0.009);
    // The response of the heat to the light foretells it.
    const foretold = base.heatAtFactor(0.99).best / 3.6e6;
    expect(Math.abs(duller.year.delivered_kwh.best / foretold - 1)).toBeLessThan(0.002);
  }, 120_000);

  test('threads: the same bytes with none, one and two', async () => {
    const coarse = { tolerance: 0.05, rays: 1024, sunStep: 60 } as const;
    const [none, one, two] = [
      await heatOf(SCENE, { ...coarse, workers: 0 }),
      await heatOf(SCENE, { ...coarse, workers: 1 }),
      await heatOf(SCENE, { ...coarse, workers: 2 }),
    ].map(({ year }) => JSON.stringify(year));
    expect(one).toBe(none);
    expect(two).toBe(none);
  }, 240_000);
});

describe('openings', () => {
  test('the size that the scene has gives the heat of the year itself', () => {
    const { opening, delivered_kwh, caught_kwh } = base.year;
    const present = opening!.points.find(({ scale }) => scale === 1)!;
    expect(Math.abs(present.caught_kwh / caught_kwh.value - 1)).toBeLessThan(1e-9);
    expect(Math.abs(present.delivered_kwh / delivered_kwh.best - 1)).toBeLessThan(1e-9);
  });

  test('a wider opening catches no less', () => {
    const caught = base.year.opening!.points.map((point) => point.caught_kwh);
    for (let i = 1; i < caught.length; i++) expect(caught[i]).toBeGreaterThanOrEqual(caught[i - 1]);
  });

  test('a scene built with another opening has the heat that was foretold for it', async () => {
    const { points } = base.year.opening!;
    const narrow = points.find(({ scale }) => scale === 0.75)!;
    const built = await heatOf(smallScene([`dishes.seven.receiver.aperture.diameter_m=${0.25 * 0.75}`]));
    // Receivers look for their best place with the opening they have: a narrow one may find a little more.
    expect(built.year.caught_kwh.value / narrow.caught_kwh).toBeGreaterThan(0.99);
    expect(built.year.caught_kwh.value / narrow.caught_kwh).toBeLessThan(1.03);
  }, 120_000);

  test('summit and flat range of a parabola, closed form', () => {
    const points = Array.from({ length: 12 }, (_, i) => ({ size: i / 5, value: 4 - (i / 5 - 1.13) ** 2 }));
    const summit = summitOf(points);
    expect(summit.size).toBeCloseTo(1.13, 12);
    expect(summit.value).toBeCloseTo(4, 12);
    const [from, to] = flatRange(points, summit, 4 - 0.16);
    expect(from).toBeGreaterThan(0.7);
    expect(from).toBeLessThan(0.76);
    expect(to).toBeGreaterThan(1.5);
    expect(to).toBeLessThan(1.56);
  });
});

describe('what it rests on', () => {
  test('light against slope errors: paired traces at some places foretell the year', async () => {
    const { slope_response } = base.year.uncertainty;
    const steeper = slope_response.at(-1)!;
    expect(steeper.factor).toBeCloseTo(1.3, 12);
    const year = await heatOf(withSlopeErrors(SCENE, 1.3));
    const ratio = year.year.caught_kwh.value / base.year.caught_kwh.value;
    const error = Math.hypot(
      steeper.std_err,
      year.year.caught_kwh.std_err / year.year.caught_kwh.value,
      base.year.caught_kwh.std_err / base.year.caught_kwh.value,
    );
    expect(Math.abs(ratio - steeper.caught_ratio)).toBeLessThan(3 * error);
  }, 120_000);

  test('the cosine without any ray', () => {
    const { waterfall_kwh } = base.year;
    const traced = waterfall_kwh[1].value / waterfall_kwh[0].value;
    expect(waterfall_kwh[1].key).toBe('cosine');
    // Bent strips lean to both sides of their middle: a little more is lost than the middles say.
    expect(Math.abs(traced - summedCosine(SCENE, yearSuns(SCENE)))).toBeLessThan(0.006);
    const turned = smallScene(['dishes.seven.design_tilt_deg=15']);
    expect(Math.abs(traced - summedCosine(turned, yearSuns(turned)))).toBeGreaterThan(0.006);
  });

  test('hotter oil, less heat; without losses, all that is absorbed but for warming up', async () => {
    const hotter = await heatOf(smallScene(['heat.oil.inlet_c=232', 'heat.oil.outlet_c=248']));
    expect(hotter.year.delivered_kwh.best).toBeLessThan(0.85 * base.year.delivered_kwh.best);
    const plant = heatPlant(SCENE);
    expect(plant.heatCapacity).toBeGreaterThan(4 * 480);
  }, 120_000);

  test('uncertain inputs: mean near the best value, wide as their elasticities say', () => {
    const { uncertainty, delivered_kwh } = base.year;
    expect(Math.abs(uncertainty.mean_kwh / delivered_kwh.best - 1)).toBeLessThan(0.02);
    const linear = Math.hypot(...uncertainty.inputs.map((input) => input.relative_sd * input.elasticity));
    expect(Math.abs(uncertainty.sd_kwh / delivered_kwh.best / linear - 1)).toBeLessThan(0.1);
  });
});
