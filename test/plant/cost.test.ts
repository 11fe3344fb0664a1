import seedrandom from 'seedrandom';
import { describe, expect, it } from 'vitest';
import {
  againstFuel,
  type CostPlan,
  capitalRecovery,
  costOfHeat,
  discounted,
  presentHeat,
  ZERO_RATE_NO_TAX,
} from '../../src/plant/cost.js';
import { costBand, leverStrengths, propagate, sample } from '../../src/plant/cost-uncertainty.js';
import { tableRows } from '../reference/tables.js';
import { agrees, near } from './agrees.js';

const PART = { name: 'all', price: 100, count: 1, lifetime: 20, crewHours: 0 };
/** CST-02: I 100, A 2 a year, E 500 kWh a year, 5 %, 20 years. */
const PLAN: CostPlan = {
  parts: [PART],
  upkeep: [{ name: 'care', money: 2, crewHours: 0 }],
  crewRate: 0,
  years: 20,
  heat: 500,
  yieldFall: 0,
  convention: discounted(0.05),
};
/** Invented field. */
const FIELD: CostPlan = {
  parts: [
    { name: 'film', price: 3, count: 400, lifetime: 4, crewHours: 0.1 },
    { name: 'frames', price: 40, count: 60, lifetime: 20, crewHours: 2 },
    { name: 'receivers', price: 65, count: 60, lifetime: 12, crewHours: 1.5 },
    { name: 'pipes', price: 2200, count: 1, lifetime: Number.POSITIVE_INFINITY, crewHours: 60 },
  ],
  upkeep: [
    { name: 're-settings', money: 0, crewHours: 30 },
    { name: 'washing', money: 60, crewHours: 20 },
  ],
  crewRate: 9,
  years: 20,
  heat: 36_000,
  yieldFall: 0.005,
  convention: { rate: 0.06, tax: 0.19, residual: 'straight_line' },
};

describe('check values', () => {
  it.each(tableRows('capital-recovery.csv'))('CST-01 $rate over $years years', (row) => {
    const of = (rate: number) => capitalRecovery(rate, Number(row.years));
    expect(agrees(of(Number(row.rate)), Number(row.crf), 1e-9)).toBe(true);
    expect(agrees(of(Number(row.rate) + 1e-5), Number(row.crf), 1e-9)).toBe(false);
  });

  it('CST-02 0.0200485 per kWh, equal to (100 CRF + 2)/500 (closed form)', () => {
    const { perHeat } = costOfHeat(PLAN);
    expect(agrees(perHeat, 0.0200485, 5e-8)).toBe(true);
    expect(agrees(perHeat, (100 * capitalRecovery(0.05, 20) + 2) / 500, 1e-9)).toBe(true);
    expect(agrees(costOfHeat({ ...PLAN, heat: 500.1 }).perHeat, 0.0200485, 5e-8)).toBe(false);
  });

  it('CST-03 yield falling 1 % a year: 0.0216714', () => {
    expect(agrees(costOfHeat({ ...PLAN, yieldFall: 0.01 }).perHeat, 0.0216714, 1e-7)).toBe(true);
    // Sabotage: the fall counted from the first year on.
    const early = { ...PLAN, yieldFall: 0.01, heat: 500 * 0.99 };
    expect(agrees(costOfHeat(early).perHeat, 0.0216714, 1e-7)).toBe(false);
  });

  it('CST-04 rate to zero: 0.014, no jump there', () => {
    expect(agrees(costOfHeat({ ...PLAN, convention: ZERO_RATE_NO_TAX }).perHeat, 0.014, 1e-9)).toBe(true);
    expect(agrees(costOfHeat({ ...PLAN, convention: discounted(1e-12) }).perHeat, 0.014, 1e-9)).toBe(true);
    expect(agrees(costOfHeat({ ...PLAN, convention: discounted(1e-4) }).perHeat, 0.014, 1e-9)).toBe(false);
  });
});

describe('parts, replacements, what is left', () => {
  it('the sums of the definition, year by year', () => {
    const { perHeat, presentCost, presentHeat: heat, lines } = costOfHeat(FIELD);
    let cost = 0;
    for (const part of FIELD.parts) {
      const placed = part.count * (part.price + part.crewHours * 9) * 1.19;
      let bought = 0;
      for (let year = 0; year < 20; year++) {
        if (year === 0 || (Number.isFinite(part.lifetime) && year % part.lifetime === 0)) {
          cost += placed / 1.06 ** year;
          bought = year;
        }
      }
      const left = Number.isFinite(part.lifetime) ? 1 - (20 - bought) / part.lifetime : 1;
      cost -= (Math.max(0, left) * part.count * part.price * 1.19) / 1.06 ** 20;
    }
    for (let year = 1; year <= 20; year++) cost += ((30 * 9 + 60 + 20 * 9) * 1.19) / 1.06 ** year;
    expect(near(presentCost, cost, 1e-12)).toBe(true);
    expect(near(heat, presentHeat(36_000, 0.005, 0.06, 20), 1e-14)).toBe(true);
    expect(near(perHeat, cost / heat, 1e-12)).toBe(true);
    const sum = lines.reduce((total, line) => total + line.perHeat, 0);
    expect(near(sum, perHeat, 1e-12)).toBe(true);
    const noPipes = lines.reduce((total, line) => total + (line.name === 'pipes' ? 0 : line.perHeat), 0);
    expect(near(noPipes, perHeat, 1e-12)).toBe(false);
  });

  it('a part that ends with the horizon is not bought again; a third of a horizon twice', () => {
    const years = (lifetime: number) =>
      costOfHeat({ ...PLAN, parts: [{ ...PART, lifetime }], convention: ZERO_RATE_NO_TAX }).lines[0];
    expect(years(20).replacements).toBe(0);
    expect(years(20 / 3).replacements).toBeCloseTo(200, 9);
    expect(years(6).replacements).toBeCloseTo(300, 9);
    const kept = costOfHeat({
      ...PLAN,
      parts: [{ ...PART, lifetime: 6 }],
      convention: { rate: 0, tax: 0, residual: 'straight_line' },
    });
    // Bought at 0, 6, 12, 18: four years of six are left.
    expect(kept.lines[0].residual).toBeCloseTo((100 * 4) / 6, 9);
  });

  it('conventions: tax multiplies all, 0 % is dearer in nothing but upkeep later on', () => {
    const taxed = costOfHeat({ ...PLAN, convention: { ...PLAN.convention, tax: 0.19 } }).perHeat;
    expect(taxed / costOfHeat(PLAN).perHeat).toBeCloseTo(1.19, 12);
    expect(costOfHeat({ ...PLAN, convention: ZERO_RATE_NO_TAX }).perHeat).toBeLessThan(
      costOfHeat(PLAN).perHeat,
    );
  });

  it('refuses what cannot be, by name', () => {
    const film = FIELD.parts[0];
    const parts = (change: object) => ({ ...FIELD, parts: [{ ...film, ...change }] });
    expect(() => costOfHeat(parts({ lifetime: 0 }))).toThrow(/lifetime of film/);
    expect(() => costOfHeat(parts({ lifetime: 1e-5 }))).toThrow(/10,000 times/);
    expect(() => costOfHeat(parts({ price: Number.NaN }))).toThrow(/price of film/);
    expect(() => costOfHeat({ ...FIELD, parts: [film, film] })).toThrow(/two entries.*"film"/);
    expect(() => costOfHeat({ ...FIELD, years: 0 })).toThrow(/years/);
    expect(() => costOfHeat({ ...FIELD, heat: 0 })).toThrow(/heat/);
  });
});

describe('against a fuel', () => {
  it('break-even price is the cost of heat times the efficiency; at that price nothing is gained over the plan', () => {
    const { perHeat } = costOfHeat(PLAN);
    const { breakEven, fuelHeat, discountedPayback } = againstFuel(PLAN, 0.05, 0.85);
    expect(breakEven).toBeCloseTo(perHeat * 0.85, 14);
    expect(fuelHeat).toBeCloseTo(0.05 / 0.85, 14);
    expect(discountedPayback!).toBeLessThan(20);
    // Just above break-even it pays back at the very end; just below, never.
    expect(againstFuel(PLAN, breakEven * 1.0001, 0.85).discountedPayback!).toBeGreaterThan(19.9);
    expect(againstFuel(PLAN, breakEven * 0.9999, 0.85).discountedPayback).toBeNull();
  });

  it('simple payback by hand: 100 / (500 x 0.06 - 2)', () => {
    expect(againstFuel(PLAN, 0.06, 1).simplePayback!).toBeCloseTo(100 / 28, 12);
    expect(againstFuel(PLAN, 0, 1).simplePayback).toBeNull();
    expect(() => againstFuel(PLAN, 0.06, 0)).toThrow(/efficiency/);
  });
});

describe('levers', () => {
  it('heat has elasticity -1; the three strongest come first; money shares add up to 1', () => {
    const strengths = leverStrengths(FIELD);
    const of = (name: string) => strengths.find((entry) => entry.name === name)!.elasticity;
    expect(of('heat')).toBeCloseTo(-1, 10);
    expect(strengths[0].name).toBe('heat');
    for (let i = 1; i < strengths.length; i++) {
      expect(Math.abs(strengths[i].elasticity)).toBeLessThanOrEqual(Math.abs(strengths[i - 1].elasticity));
    }
    // Cost is of first degree in all money together: prices, crew rate and yearly money.
    const fine = leverStrengths(FIELD, 1e-4);
    const fineOf = (name: string) => fine.find((entry) => entry.name === name)!.elasticity;
    const washing = costOfHeat(FIELD).lines.find((line) => line.name === 'washing')!;
    const cashShare = (washing.perHeat / costOfHeat(FIELD).perHeat) * (60 / 240);
    const prices = FIELD.parts.reduce((sum, part) => sum + fineOf(`price of ${part.name}`), 0);
    expect(agrees(prices + fineOf('crew rate') + cashShare, 1, 1e-6)).toBe(true);
    expect(agrees(prices + fineOf('crew rate'), 1, 1e-6)).toBe(false);
    expect(of('rate')).toBeGreaterThan(0);
    expect(of('lifetime of film')).toBeLessThan(0);
    expect(of('lifetime of pipes')).toBe(0);
  });
});

describe('propagation of distributions', () => {
  it('samples have the moments of their distributions (4 standard errors), and a wrong width is seen', () => {
    const draw = seedrandom.alea('moments');
    const trials = 40_000;
    const cases = [
      [{ kind: 'uniform', from: 2, to: 5 }, 3.5, 9 / 12],
      [{ kind: 'triangular', from: 1, mode: 2, to: 4 }, 7 / 3, (1 + 4 + 16 - 2 - 4 - 8) / 18],
      [{ kind: 'normal', mean: -1, sigma: 0.5 }, -1, 0.25],
      [
        { kind: 'lognormal', median: 2, sigma: 0.25 },
        2 * Math.exp(1 / 32),
        4 * Math.exp(1 / 16) * Math.expm1(1 / 16),
      ],
    ] as const;
    for (const [distribution, mean, variance] of cases) {
      const values = Array.from({ length: trials }, () => sample(distribution, draw));
      const average = values.reduce((sum, value) => sum + value, 0) / trials;
      const spread = values.reduce((sum, value) => sum + (value - average) ** 2, 0) / (trials - 1);
      expect(agrees(average, mean, 4 * Math.sqrt(variance / trials))).toBe(true);
      // The variance of a variance is at most about (kurtosis - 1) / n; 3.5 covers the lognormal.
      const error = 4 * variance * Math.sqrt(2.5 / trials);
      expect(agrees(spread, variance, error)).toBe(true);
      expect(agrees(spread * 1.1, variance, error)).toBe(false);
    }
  });

  it('JCGM 101 sum of four equal rectangles (its example 9.2.3, from memory): u = 2.0, 95 % interval +-3.88', () => {
    const width = Math.sqrt(3);
    const four = Array.from({ length: 4 }, (_, i) => ({
      name: `x${i}`,
      distribution: { kind: 'uniform', from: -width, to: width } as const,
    }));
    const run = (factor: number) =>
      propagate(
        (x) => factor * x.reduce((sum, value) => sum + value, 0),
        four,
        seedrandom.alea('rectangles'),
        50_000,
      );
    const { standardDeviation, interval95, mean, meanError } = run(1);
    expect(agrees(standardDeviation, 2, 0.02)).toBe(true);
    expect(agrees(interval95[1], 3.88, 0.05)).toBe(true);
    expect(agrees(interval95[0], -3.88, 0.05)).toBe(true);
    expect(Math.abs(mean)).toBeLessThan(4 * meanError);
    expect(agrees(run(1.03).standardDeviation, 2, 0.02)).toBe(false);
  });

  it('cost: the same seed the same band; heat 10 % uncertain moves it as 1/heat', () => {
    const uncertain = [{ name: 'heat', distribution: { kind: 'uniform', from: 0.9, to: 1.1 } as const }];
    const band = () => costBand(FIELD, uncertain, seedrandom.alea('cost'), 20_000);
    expect(band()).toEqual(band());
    const { perHeat } = costOfHeat(FIELD);
    // Exact quantiles of 1/u.
    expect(near(band().interval95[0], perHeat / 1.095, 0.002)).toBe(true);
    expect(near(band().interval95[1], perHeat / 0.905, 0.002)).toBe(true);
    expect(near(band().interval95[1], perHeat / 0.92, 0.002)).toBe(false);
    expect(() => costBand(FIELD, [{ ...uncertain[0], name: 'weather' }], Math.random, 1000)).toThrow(
      /no input "weather".*heat, crew rate/,
    );
  });

  it('draws that make no plan are counted; nothing but such draws is an error', () => {
    const wild = [{ name: 'heat', distribution: { kind: 'normal', mean: 1, sigma: 0.6 } as const }];
    expect(costBand(FIELD, wild, seedrandom.alea('wild'), 1000).redrawn).toBeGreaterThan(10);
    const never = [{ name: 'heat', distribution: { kind: 'uniform', from: -2, to: -1 } as const }];
    expect(() => costBand(FIELD, never, seedrandom.alea('never'), 1000)).toThrow(/most draws/);
  });
});
