import seedrandom from 'seedrandom';
import { describe, expect, it } from 'vitest';
import {
  bestReplacement,
  breakEvenFilmPrice,
  compareStrategies,
  type FilmPlan,
  heatFactorAtAge,
  linearBestInterval,
  reflectanceAtAge,
  spreadAtAge,
} from '../../src/plant/film-economics.js';
import {
  meanSoilingExponential,
  meanSoilingLinear,
  monthOfDay,
  type Soiling,
  soilingByDay,
  soilingByMonth,
} from '../../src/plant/soiling.js';
import { agrees, near } from './agrees.js';

const DRY: Soiling = { kind: 'linear', perDay: 0.002, rainDays: new Array(12).fill(0), rainRecovery: 1 };
const WASH = { everyDays: 7, cost: 10, recovery: 1, wear: 0 };
const mean = (values: ArrayLike<number>) =>
  Array.from(values).reduce((sum, value) => sum + value, 0) / values.length;

describe('FLM-13 mean of soiling between two washings (closed form)', () => {
  it.each([
    [0.002, 7, 0.993, 0.99303],
    [0.005, 14, 0.965, 0.9658],
    [0.01, 30, 0.85, 0.86394],
  ])('%f a day, washed every %i days', (perDay, everyDays, linear, exponential) => {
    expect(agrees(meanSoilingLinear(perDay, everyDays), linear, 5e-6)).toBe(true);
    expect(agrees(meanSoilingExponential(perDay, everyDays), exponential, 5e-6)).toBe(true);
    expect(agrees(meanSoilingExponential(perDay, everyDays + 1), exponential, 5e-6)).toBe(false);
    // The same from day to day, over whole intervals.
    const days = 20 * everyDays;
    const washing = { ...WASH, everyDays };
    expect(mean(soilingByDay({ ...DRY, perDay }, days, washing))).toBeCloseTo(linear, 5);
    const fading = soilingByDay({ ...DRY, kind: 'exponential', perDay }, days, washing);
    expect(mean(fading)).toBeCloseTo(meanSoilingExponential(perDay, everyDays), 12);
    const weak = soilingByDay({ ...DRY, perDay }, days, { ...washing, recovery: 0.9 });
    expect(agrees(mean(weak), linear, 5e-6)).toBe(false);
  });
});

describe('soiling', () => {
  it('levels off at its floor', () => {
    const days = soilingByDay({ ...DRY, perDay: 0.005, floor: 0.6 }, 400);
    expect(days[399]).toBe(0.6);
    expect(Math.min(...days)).toBe(0.6);
    expect(
      mean(soilingByDay({ ...DRY, kind: 'exponential', perDay: 0.05, floor: 0.6 }, 400).slice(100)),
    ).toBeCloseTo(0.6, 12);
  });

  it('the day that meets the floor, by hand and by small steps', () => {
    const linear = soilingByDay({ ...DRY, perDay: 0.3, floor: 0.6 }, 3);
    // From 0.7 a third of the day down to 0.6, then level.
    expect(linear[0]).toBeCloseTo(0.85, 12);
    expect(linear[1]).toBeCloseTo(0.65 / 3 + (0.6 * 2) / 3, 12);
    expect(linear[2]).toBe(0.6);
    const fading = soilingByDay({ ...DRY, kind: 'exponential', perDay: 0.4, floor: 0.6 }, 3);
    const steps = 100_000;
    let sum = 0;
    for (let i = 0; i < steps; i++) sum += Math.max(0.6, Math.exp(-0.4 * (1 + (i + 0.5) / steps)));
    expect(fading[1]).toBeCloseTo(sum / steps, 9);
    expect(soilingByDay({ ...DRY, perDay: 0, floor: 1 }, 2)[1]).toBe(1);
  });

  it('rain evenly spaced and by chance agree within the chance of the years, and not where rain is left out', () => {
    const wet: Soiling = { ...DRY, rainDays: new Array(12).fill(6), rainRecovery: 0.8 };
    const even = mean(soilingByMonth(wet, 10));
    const runs = Array.from({ length: 40 }, (_, run) =>
      mean(soilingByMonth(wet, 10, null, seedrandom.alea(`rain ${run}`))),
    );
    const average = mean(runs);
    const error = Math.sqrt(runs.reduce((sum, value) => sum + (value - average) ** 2, 0) / 39);
    // By chance dry spells come longer and count double: the loss is about twice that of even spacing.
    const loss = (1 - average) / (1 - even);
    expect(loss).toBeGreaterThan(1.1);
    expect(loss).toBeLessThan(2);
    expect(error).toBeLessThan(0.002);
    expect(1 - mean(soilingByMonth({ ...wet, rainDays: new Array(12).fill(1) }, 10))).toBeGreaterThan(
      3 * (1 - even),
    );
  });

  it('by chance: 6 rains in 30 days at full recovery leave, on the mean, the geometric law (4 standard errors)', () => {
    // With chance p a night the age of the dirt is geometric: mean loss r (1/p - 1) + r/2.
    const p = 6 / 30;
    const steady: Soiling = {
      ...DRY,
      rainDays: [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31].map((days) => days * p),
      rainRecovery: 1,
    };
    const days = soilingByDay(steady, 365 * 60, null, seedrandom.alea('geometric'));
    const expected = 1 - 0.002 * (1 / p - 1 + 0.5);
    // Ages of neighbouring days hang together over about 2/p - 1 = 9 days.
    const error = 4 * 0.002 * Math.sqrt((1 - p) / p ** 2) * Math.sqrt(9 / days.length);
    expect(agrees(mean(days), expected, error)).toBe(true);
    expect(agrees(mean(days), 1 - 0.002 * (1 / p + 0.5), error)).toBe(false);
  });

  it('the same draws the same days; months of days', () => {
    const wet: Soiling = { ...DRY, rainDays: new Array(12).fill(5), rainRecovery: 0.8 };
    const run = () => soilingByDay(wet, 100, null, seedrandom.alea('same'));
    expect(run()).toEqual(run());
    expect([0, 30, 31, 58, 59, 364, 365].map(monthOfDay)).toEqual([0, 0, 1, 1, 2, 11, 0]);
    expect(() => soilingByDay({ ...wet, rainDays: [1] }, 10)).toThrow(/12 months/);
    for (const change of [{ everyDays: 0 }, { cost: -1 }, { recovery: 1.1 }, { wear: 0.6 }]) {
      expect(() => soilingByDay(wet, 10, { ...WASH, ...change })).toThrow(RangeError);
    }
    for (const change of [{ perDay: 1.1 }, { floor: 1.1 }, { rainRecovery: 1.1 }]) {
      expect(() => soilingByDay({ ...wet, ...change }, 10)).toThrow(RangeError);
    }
    expect(() => soilingByDay({ ...wet, rainDays: new Array(12).fill(29) }, 10)).toThrow(/month 2/);
  });
});

/** Invented: linear loss, even months. */
const PLAN: FilmPlan = {
  film: {
    reflectance: 0.84,
    reflectanceDrift: { kind: 'linear', perYear: -0.042 },
    spread: 1.5e-3,
    spreadDrift: { kind: 'linear', perYear: 0 },
  },
  monthlyHeat: new Array(12).fill(1000),
  reference: { reflectance: 0.84, spread: 1.5e-3 },
  heatPrice: 0.04,
  filmPrice: 90,
  replacementWork: 30,
  soiling: null,
  washing: null,
};

describe('ageing', () => {
  it('linear and exponential, held to what can be', () => {
    expect(reflectanceAtAge(PLAN.film, 2)).toBeCloseTo(0.756, 12);
    expect(reflectanceAtAge(PLAN.film, 40)).toBe(0);
    const fading = { ...PLAN.film, reflectanceDrift: { kind: 'exponential', perYear: -0.1 } as const };
    expect(reflectanceAtAge(fading, 3)).toBeCloseTo(0.84 * Math.exp(-0.3), 12);
    const hazy = { ...PLAN.film, spreadDrift: { kind: 'linear', perYear: 5e-4 } as const };
    expect(spreadAtAge(hazy, 4)).toBeCloseTo(3.5e-3, 12);
  });

  it('haze costs through the caught share', () => {
    const plan: FilmPlan = {
      ...PLAN,
      film: { ...PLAN.film, spreadDrift: { kind: 'linear', perYear: 1e-3 } },
      interceptBySpread: { spread: [1.5e-3, 5.5e-3], fraction: [0.95, 0.75] },
    };
    expect(heatFactorAtAge(plan, 2)).toBeCloseTo((0.756 / 0.84) * (0.85 / 0.95), 12);
    expect(bestReplacement(plan, 120).best.interval).toBeLessThan(bestReplacement(PLAN, 120).best.interval);
  });
});

describe('best replacement', () => {
  it('T* = sqrt(2 C / (v E k)) of the linear case, by whole months', () => {
    // k = 5 % of the new film's heat a year; E = 12,000, v = 0.04, C = 120.
    const years = linearBestInterval(120, 0.04, 12_000, 0.05);
    expect(years).toBeCloseTo(Math.sqrt(10), 12);
    const { best, flatFrom, flatTo, atEnd } = bestReplacement(PLAN, 120);
    expect(Math.abs(best.interval - 12 * years)).toBeLessThanOrEqual(1);
    expect(atEnd).toBe(false);
    // Worth by the closed form: v E (1 - k T / 2) - C / T.
    const t = best.interval / 12;
    expect(best.worth).toBeCloseTo(480 * (1 - 0.025 * t) - 120 / t, 9);
    // Sabotage: a fall half as fast is seen.
    expect(Math.abs(best.interval - 12 * linearBestInterval(120, 0.04, 12_000, 0.025))).toBeGreaterThan(1);
    // Flat range by the closed form.
    const worth = (months: number) => 480 * (1 - (0.025 * months) / 12) - 1440 / months;
    expect(worth(flatFrom)).toBeGreaterThanOrEqual(0.99 * best.worth);
    expect(worth(flatFrom - 1)).toBeLessThan(0.99 * best.worth);
    expect(worth(flatTo)).toBeGreaterThanOrEqual(0.99 * best.worth);
    expect(worth(flatTo + 1)).toBeLessThan(0.99 * best.worth);
  });

  it('the month: new film goes up just before the months that bring most', () => {
    const summer = [2, 3, 6, 10, 14, 18, 20, 18, 12, 8, 3, 2].map((share) => share * 100);
    const plan: FilmPlan = {
      ...PLAN,
      monthlyHeat: summer,
      filmPrice: 30,
      film: { ...PLAN.film, reflectanceDrift: { kind: 'linear', perYear: -0.2 } },
    };
    const { byInterval } = bestReplacement(plan, 12);
    const yearly = byInterval[11];
    expect(yearly.month).not.toBeNull();
    // By trying all months by hand.
    const heatOf = (month: number) =>
      summer.reduce(
        (sum, _, age) => sum + summer[(month + age) % 12] * (1 - (0.2 / 0.84) * ((age + 0.5) / 12)),
        0,
      );
    const heats = Array.from({ length: 12 }, (_, month) => heatOf(month));
    expect(yearly.month).toBe(heats.indexOf(Math.max(...heats)));
    expect(yearly.heat).toBeCloseTo(Math.max(...heats), 9);
  });

  it('a film that does not age is kept to the end', () => {
    const plan = {
      ...PLAN,
      film: { ...PLAN.film, reflectanceDrift: { kind: 'linear', perYear: 0 } as const },
    };
    expect(bestReplacement(plan, 60).atEnd).toBe(true);
  });

  it('none, washing, replacement, both', () => {
    const plan: FilmPlan = {
      ...PLAN,
      soiling: { ...DRY, perDay: 0.003, floor: 0.5, rainDays: new Array(12).fill(1), rainRecovery: 0.5 },
      washing: { everyDays: 21, cost: 0.8, recovery: 0.95, wear: 1e-4 },
    };
    const { none, washing, replacement, both } = compareStrategies(plan, 120);
    expect(washing!.worth).toBeGreaterThan(none.worth);
    expect(replacement.best.worth).toBeGreaterThan(none.worth);
    expect(both!.best.worth).toBeGreaterThan(washing!.worth);
    expect(both!.best.worth).toBeGreaterThan(replacement.best.worth);
    expect(none.interval).toBe(120);
    const dear = { ...plan, washing: { ...plan.washing!, cost: 50 } };
    expect(compareStrategies(dear, 120).both!.best.worth).toBeLessThan(replacement.best.worth);
  });

  it('break-even price of a better film: at it both are worth the same', () => {
    const better = { ...PLAN.film, reflectanceDrift: { kind: 'linear', perYear: -0.01 } as const };
    const price = breakEvenFilmPrice(PLAN, better, 240)!;
    expect(price).toBeGreaterThan(PLAN.filmPrice);
    const worth = (filmPrice: number) =>
      bestReplacement({ ...PLAN, film: better, filmPrice }, 240).best.worth;
    const own = bestReplacement(PLAN, 240).best.worth;
    expect(near(worth(price), own, 1e-12)).toBe(true);
    expect(near(worth(price * 1.01), own, 1e-12)).toBe(false);
    expect(breakEvenFilmPrice(PLAN, PLAN.film, 240)!).toBeCloseTo(PLAN.filmPrice, 9);
    expect(breakEvenFilmPrice(PLAN, { ...PLAN.film, reflectance: 0.3 }, 240)).toBeNull();
  });

  it('refuses what cannot be', () => {
    expect(() => bestReplacement({ ...PLAN, monthlyHeat: [1] }, 12)).toThrow(/12 months/);
    expect(() => bestReplacement(PLAN, 0)).toThrow(/longest/);
    expect(() => linearBestInterval(0, 1, 1, 1)).toThrow(/cost/);
  });
});
