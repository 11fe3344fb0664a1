import fc from 'fast-check';
import seedrandom from 'seedrandom';
import { describe, expect, it } from 'vitest';
import { planResettings, type ResettingRules } from '../../src/study/resetting.js';
import {
  bestByDay,
  changesOf,
  evaluatePlan,
  planOfDays,
  type ResettingPlan,
  type SettingTable,
  settingByDay,
} from '../../src/study/setting-table.js';

const TILT = { name: 'tilt', unit: 'deg' };

function tableOf(
  days: number,
  values: readonly number[],
  energy: (day: number, value: number) => number,
): SettingTable {
  const settings = values.map((value) => ({ label: `${value}`, value }));
  const energy_kwh = new Float64Array(days * values.length);
  for (let day = 0; day < days; day++) {
    values.forEach((value, k) => {
      energy_kwh[day * values.length + k] = energy(day, value);
    });
  }
  return { kind: TILT, settings, days, energy_kwh };
}

function randomTable(days: number, settings: number, seed: string): SettingTable {
  const random = seedrandom(seed);
  // Values 0, 1, 2, ... so that a limit on a change is a limit on the step of the index.
  return tableOf(
    days,
    Array.from({ length: settings }, (_, k) => k),
    () => random() * 10 - 2,
  );
}

/** Best energy of each number of changes, by trying every assignment of settings to days. */
function bruteForce({ days, settings, energy_kwh }: SettingTable, rules: ResettingRules): number[] {
  const count = settings.length;
  const best = new Array(days + 1).fill(Number.NEGATIVE_INFINITY);
  for (let code = 0; code < count ** days; code++) {
    const held = Array.from({ length: days }, (_, day) => Math.floor(code / count ** day) % count);
    let changes = 0;
    let allowed = true;
    let energy = 0;
    for (let day = 0; day < days; day++) {
      const step = Math.abs(held[day] - held[(day + days - 1) % days]);
      if (step > 0) {
        changes++;
        allowed &&= step <= (rules.largestChange ?? 99) && (rules.allowedDays?.[day] ?? true);
      }
      energy += energy_kwh[day * count + held[day]];
    }
    if (allowed && energy > best[changes]) best[changes] = energy;
  }
  for (let n = 1; n < best.length; n++) best[n] = Math.max(best[n], best[n - 1]);
  return best;
}

/** The year cut open: what a programming that forgets the turn of the year would count. */
function changesInsideTheYear(plan: ResettingPlan): number {
  const held = settingByDay(plan);
  return held.filter((setting, day) => day > 0 && setting !== held[day - 1]).length;
}

describe('exactness, against every assignment', () => {
  const cases: [string, ResettingRules][] = [
    ['free', {}],
    ['a largest change', { largestChange: 1 }],
    ['closed days', { allowedDays: [true, false, true, true, false, true, false] }],
    ['no change at the turn of the year', { allowedDays: [false, true, true, true, true, true, true] }],
    ['both', { largestChange: 2, allowedDays: [true, true, false, true, false, true, true] }],
  ];
  it.each(cases)('%s', (_, rules) => {
    for (let seed = 0; seed < 12; seed++) {
      const table = randomTable(7, seed % 2 === 0 ? 4 : 3, `plans-${seed}`);
      const truth = bruteForce(table, rules);
      const plans = planResettings(table, { ...rules, most: 7 });
      plans.forEach((plan, n) => {
        expect(evaluatePlan(table, plan)).toBeCloseTo(truth[n], 10);
        expect(changesOf(plan)).toBeLessThanOrEqual(n);
      });
    }
  });

  it('sabotage: the first day as a free start, its change not counted, does not agree', () => {
    let seen = 0;
    for (let seed = 0; seed < 12; seed++) {
      const table = randomTable(7, 3, `plans-${seed}`);
      // A plan of n + 1 changes with one at the turn of the year, taken for one of n.
      const cheat = planResettings(table, { most: 4 })[4];
      if (changesInsideTheYear(cheat) <= 3 && evaluatePlan(table, cheat) > bruteForce(table, {})[3] + 1e-9)
        seen++;
    }
    expect(seen).toBeGreaterThan(0);
  });

  it('rotating the year rotates the plan: no day is special', () => {
    const table = randomTable(40, 5, 'turn');
    const shift = 13;
    const turned = tableOf(
      40,
      [0, 1, 2, 3, 4],
      (day, value) => table.energy_kwh[((day + shift) % 40) * 5 + value],
    );
    const plans = planResettings(table, { most: 12 });
    planResettings(turned, { most: 12 }).forEach((plan, n) => {
      expect(evaluatePlan(turned, plan)).toBeCloseTo(evaluatePlan(table, plans[n]), 9);
      const held = settingByDay(plans[n]);
      expect(Array.from(settingByDay(plan))).toEqual(Array.from(held, (_, day) => held[(day + shift) % 40]));
    });
  });

  it('one change is none; more never lose; enough reach the best of every day', () => {
    const table = randomTable(30, 4, 'many');
    const plans = planResettings(table, { most: 30 });
    const energies = plans.map((plan) => evaluatePlan(table, plan));
    expect(plans[1]).toBe(plans[0]);
    for (let n = 1; n < energies.length; n++) expect(energies[n]).toBeGreaterThanOrEqual(energies[n - 1]);
    const bound = evaluatePlan(table, planOfDays(bestByDay(table)));
    expect(energies[30]).toBeCloseTo(bound, 9);
    expect(energies[5]).toBeLessThan(bound);
  });

  it('a change that brings nothing is not planned', () => {
    const table = tableOf(365, [0, 10], (day, value) => (day >= 100 && day < 200 ? value : 10 - value));
    const plans = planResettings(table, { most: 8 });
    expect(plans[2].periods).toEqual([
      { day: 100, setting: 1 },
      { day: 200, setting: 0 },
    ]);
    expect(plans[8]).toBe(plans[2]);
  });

  it('a year of one day, and one setting', () => {
    const day = randomTable(1, 3, 'day');
    expect(evaluatePlan(day, planResettings(day, { most: 3 })[3])).toBe(Math.max(...day.energy_kwh));
    const lone = randomTable(20, 1, 'lone');
    expect(planResettings(lone)[24].periods).toEqual([{ day: 0, setting: 0 }]);
  });

  it('plans and days turn into each other', () => {
    fc.assert(
      fc.property(fc.array(fc.nat({ max: 3 }), { minLength: 1, maxLength: 30 }), (held) => {
        expect(Array.from(settingByDay(planOfDays(held)))).toEqual(held);
      }),
      { seed: 7 },
    );
  });
});

/** Cooper's declination, degrees: 23.45 sin(360 (284 + n)/365), Solar Energy 12 (1969) 333, n = 1 the first of January. */
function declination(day: number): number {
  return 23.45 * Math.sin((2 * Math.PI * (284 + day + 1)) / 365);
}

/** Five equal bands of declination have half widths of 23.45/5. */
const HALF_WIDTH = 23.45 / 5;

function bandOf(day: number): number {
  return Math.min(2, Math.max(-2, Math.round(declination(day) / (2 * HALF_WIDTH)))) + 2;
}

const BANDS = planOfDays(Array.from({ length: 365 }, (_, day) => bandOf(day)));
const MIDDLES = [-2, -1, 0, 1, 2].map((i) => i * 2 * HALF_WIDTH);

describe('bands of declination', () => {
  // Closed form: days within a band are 365/pi x (asin(b) - asin(a)), a and b its ends over 23.45.
  const EXPECTED = [107.7, 51.4, 46.8, 51.4, 107.7];

  it('five equal bands hold 107.7, 51.4, 46.8, 51.4, 107.7 days', () => {
    const closed = [-1, -0.6, -0.2, 0.2, 0.6].map(
      (a) => (365 / Math.PI) * (Math.asin(Math.min(1, a + 0.4)) - Math.asin(a)),
    );
    closed.forEach((days, i) => {
      expect(Math.abs(days - EXPECTED[i])).toBeLessThan(0.1);
    });
    expect(changesOf(BANDS)).toBe(8);
  });

  const FLAT = tableOf(365, MIDDLES, (day, value) =>
    Math.abs(value - declination(day)) <= HALF_WIDTH ? 1 : 0,
  );

  it('a loss of nothing inside and all outside the half width gives back the bands', () => {
    const plans = planResettings(FLAT);
    expect(plans[8]).toEqual(BANDS);
    expect(plans[24]).toBe(plans[8]);
    expect(evaluatePlan(FLAT, plans[8])).toBe(365);
    const held = settingByDay(plans[8]);
    EXPECTED.forEach((days, band) => {
      // Whole days, and each middle band is two stretches: each rounds by less than a day.
      expect(Math.abs(held.filter((k) => k === band).length - days)).toBeLessThan(2);
    });
    // Sabotage: a half width that is 3 % too small leaves days that no setting serves.
    const narrow = tableOf(365, MIDDLES, (day, value) =>
      Math.abs(value - declination(day)) <= 0.97 * HALF_WIDTH ? 1 : 0,
    );
    expect(evaluatePlan(narrow, planResettings(narrow)[8])).toBeLessThan(365);
  });

  it('a quadratic loss: eight changes beat the bands, by uneven ones, and not on the same settings with one day moved', () => {
    const grid = Array.from({ length: 47 }, (_, i) => i - 23);
    const values = [...grid, ...MIDDLES.filter((value) => !grid.includes(value))].sort((a, b) => a - b);
    const table = tableOf(365, values, (day, value) => 10 - 0.01 * (value - declination(day)) ** 2);
    const own = planResettings(table)[8];
    const bands = {
      ...BANDS,
      periods: BANDS.periods.map(({ day, setting }) => ({ day, setting: values.indexOf(MIDDLES[setting]) })),
    };
    expect(evaluatePlan(table, own)).toBeGreaterThan(evaluatePlan(table, bands) + 0.5);
    // Any single date moved by a day, or setting by a step, does not do better: the plan is a maximum.
    own.periods.forEach(({ day, setting }, i) => {
      for (const [move, step] of [
        [1, 0],
        [-1, 0],
        [0, 1],
        [0, -1],
      ]) {
        const next = setting + step;
        if (next < 0 || next >= values.length) continue;
        const periods = own.periods.map((period, j) =>
          j === i ? { day: day + move, setting: next } : period,
        );
        expect(evaluatePlan(table, { days: 365, periods })).toBeLessThanOrEqual(
          evaluatePlan(table, own) + 1e-9,
        );
      }
    });
  });

  it('receivers that move instead of mirrors: the same planning, another kind', () => {
    const asHeights = { ...FLAT, kind: { name: 'receiver height', unit: 'mm' } };
    expect(planResettings(asHeights)[8]).toEqual(BANDS);
  });
});

describe('what makes no sense is refused', () => {
  const good = randomTable(10, 3, 'good');
  it.each<[string, () => unknown, RegExp]>([
    ['a table too short', () => planResettings({ ...good, days: 11 }), /must hold days x settings = 33/],
    [
      'a hole',
      () =>
        planResettings({ ...good, energy_kwh: good.energy_kwh.map((v, i) => (i === 4 ? Number.NaN : v)) }),
      /NaN at entry 4/,
    ],
    [
      'values that fall',
      () => planResettings({ ...good, settings: [...good.settings].reverse() }),
      /must rise/,
    ],
    ['a part of a change', () => planResettings(good, { most: 2.5 }), /whole/],
    ['a change of nothing', () => planResettings(good, { largestChange: 0 }), /above 0/],
    ['too few days', () => planResettings(good, { allowedDays: [true] }), /10 entries/],
    [
      'replicates of another mean',
      () => planResettings({ ...good, replicates_kwh: [good.energy_kwh.map((v) => v + 1)] }),
      /mean of its replicates/,
    ],
    [
      'a plan that goes back',
      () =>
        settingByDay({
          days: 9,
          periods: [
            { day: 5, setting: 0 },
            { day: 5, setting: 1 },
          ],
        }),
      /rising days/,
    ],
    [
      'a strange setting',
      () => evaluatePlan(good, { days: 10, periods: [{ day: 0, setting: 3 }] }),
      /3 settings/,
    ],
    [
      'a plan of another year',
      () => evaluatePlan(good, { days: 9, periods: [{ day: 0, setting: 0 }] }),
      /does not fit/,
    ],
  ])('%s', (_, act, message) => {
    expect(act).toThrow(message);
  });
});
