/** The price of heat: its split, its band, the store, the film; and what makes scenes comparable. */
import { beforeAll, describe, expect, test } from 'vitest';
import { capitalRecovery } from '../../src/plant/cost.js';
import { studyCost } from '../../src/study/cost-study.js';
import type { CostResultDocument } from '../../src/study/cost-types.js';
import { heatPlant } from '../../src/study/heat-plant.js';
import type { HeatStudy } from '../../src/study/heat-year.js';
import { differences } from '../../src/study/line-points.js';
import { demoScene, heatOf, smallScene, taskPool } from './scenes.js';

const SCENE = smallScene();
let heat: HeatStudy;
let cost: CostResultDocument;

async function priceOf(sets: readonly string[] = []): Promise<CostResultDocument> {
  const pool = taskPool();
  try {
    return await studyCost({
      scene: smallScene(sets),
      heat,
      mode: { kind: 'following' },
      seed: 'test',
      rays: 2048,
      pool,
    });
  } finally {
    await pool.close();
  }
}

beforeAll(async () => {
  heat = await heatOf(SCENE);
  cost = await priceOf();
}, 180_000);

describe('price', () => {
  test('its lines sum to it', () => {
    const sum = cost.lines.reduce((total, line) => total + line.per_kwh, 0);
    expect(Math.abs(sum / cost.per_kwh - 1)).toBeLessThan(1e-9);
    const torn = cost.lines.slice(1).reduce((total, line) => total + line.per_kwh, 0);
    expect(Math.abs(torn / cost.per_kwh - 1)).toBeGreaterThan(1e-3);
  });

  test('one part that outlives the plan costs its price times the capital recovery, closed form', async () => {
    const one = await priceOf([
      'cost.parts=[{name: all, price: 1000, lifetime_years: 20}]',
      'cost.upkeep=[]',
      'cost.yield_fall=0',
    ]);
    const perKwh = (1000 * capitalRecovery(0.05, 20)) / heat.year.delivered_kwh.best;
    expect(Math.abs(one.per_kwh / perKwh - 1)).toBeLessThan(1e-9);
    // 0.0802426: printed in tables of capital recovery, 5 %, 20 years.
    expect(one.capital_recovery).toBeCloseTo(0.0802426, 7);
  }, 60_000);

  test('counts by basis: the dish, its mirrors, its pipes', () => {
    const count = (name: string) => cost.lines.find((line) => line.name === name)!.count;
    expect(count('posts')).toBe(1);
    expect(count('pipes')).toBe(2.5);
    expect(count('film')).toBeCloseTo(heat.mirrorArea, 12);
    expect(count('pump and controls')).toBe(1);
  });

  test('the levers: heat at the head with -1, all prices and works together +1', () => {
    expect(cost.levers.find(({ name }) => name === 'heat')!.elasticity).toBeCloseTo(-1, 6);
    const money = cost.levers
      .filter(({ name }) => name.startsWith('price of') || name.startsWith('upkeep'))
      .reduce((sum, { elasticity }) => sum + elasticity, 0);
    expect(money).toBeGreaterThan(0.3);
    expect(money).toBeLessThan(1.02);
  });

  test('the band holds the price, and dearer crews move it', async () => {
    expect(cost.ci95_per_kwh[0]).toBeLessThan(cost.per_kwh);
    expect(cost.ci95_per_kwh[1]).toBeGreaterThan(cost.per_kwh);
    const dear = await priceOf(['cost.crew_price_per_h=18']);
    expect(dear.per_kwh).toBeGreaterThan(1.05 * cost.per_kwh);
  }, 60_000);

  test('at the break-even price of the fuel both cost the same', () => {
    const { fuel, per_kwh } = cost;
    expect(fuel!.break_even_per_kwh / fuel!.efficiency).toBeCloseTo(per_kwh, 9);
  });
});

describe('store and film', () => {
  test('night costs day, losses and store; the store as its closed forms say', () => {
    const store = cost.store!;
    expect(store.day_per_kwh + store.losses_per_kwh + store.store_per_kwh).toBeCloseTo(
      store.night_per_kwh,
      12,
    );
    const capacity = (0.9 * 0.7 * 0.7 * 0.95 * 2400 * 900 * 45) / 3.6e6;
    expect(store.capacity_kwh).toBeCloseTo(capacity, 9);
    expect(store.losses_per_kwh).toBeCloseTo(store.day_per_kwh * (1 / store.delivered_share - 1), 12);
  });

  test('a dearer film is kept longer; a film that does not age is kept to the end', async () => {
    const dear = await priceOf(['film_ageing.price_per_m2=16']);
    expect(dear.film!.best.interval_months).toBeGreaterThan(cost.film!.best.interval_months);
    const lasting = await priceOf([
      'film_ageing.reflectance_per_year=0',
      'film_ageing.spread_per_year_mrad=0',
      'film_ageing.washing.wear=0',
    ]);
    expect(lasting.film!.at_end || lasting.film!.best.interval_months > 150).toBe(true);
  }, 120_000);

  test('hazier film catches less, in order', () => {
    const ratios = cost.film!.spread_response.map(({ caught_ratio }) => caught_ratio);
    for (let i = 1; i < ratios.length; i++) expect(ratios[i]).toBeLessThan(ratios[i - 1] + 1e-3);
    const own = cost.film!.spread_response.find(({ spread_mrad }) => Math.abs(spread_mrad - 1.5) < 1e-9)!;
    expect(own.caught_ratio).toBeCloseTo(1, 12);
  });
});

describe('what may be compared', () => {
  const entry = (name: string, sets: readonly string[] = []) => {
    const scene = demoScene(name, sets);
    return { file: name, scene, plant: heatPlant(scene) };
  };

  test('the three demo scenes are alike in all but mirrors and receivers', () => {
    expect(differences([entry('heat-line'), entry('heat-points-equal'), entry('heat-points')])).toEqual([]);
  });

  test.each([
    ['mirror area', ['dishes.seven.strips.length_m=1.1']],
    ['film', ['films.roll_a.reflectance=0.85']],
    ['site', ['site.latitude_deg=35']],
    ['sky', ['sky.clearness=0.8']],
    ['oil temperatures', ['heat.oil.outlet_c=180']],
    ['air', ['heat.wind_m_s=4']],
  ])('%s that differs is told', (what, sets) => {
    const found = differences([entry('heat-points'), entry('heat-points-equal', sets)]);
    expect(found.some((line) => line.startsWith(what))).toBe(true);
  });
});
