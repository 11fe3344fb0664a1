import seedrandom from 'seedrandom';
import { describe, expect, it } from 'vitest';
import { dateSlack, latePenalty, skipPenalties } from '../../src/study/plan-penalty.js';
import { energyFigure } from '../../src/study/resetting-error.js';
import { changeRows, lateRows, monthAndDay, resettingRows, wayRows } from '../../src/study/resetting-rows.js';
import { studyResettings } from '../../src/study/resetting-study.js';
import {
  evaluatePlan,
  type ResettingPlan,
  type SettingTable,
  tableOfReplicates,
} from '../../src/study/setting-table.js';

const TILT = { name: 'tilt', unit: 'deg' };
const VALUES = [-20, -10, 0, 10, 20];
const SETTINGS = VALUES.map((value) => ({ label: `${value} deg`, value }));

function filled(days: number, energy: (day: number, value: number) => number): Float64Array {
  return Float64Array.from({ length: days * VALUES.length }, (_, i) =>
    energy(Math.floor(i / VALUES.length), VALUES[i % VALUES.length]),
  );
}

function seasons(day: number, value: number): number {
  return 10 - 0.01 * (value - 23.45 * Math.sin((2 * Math.PI * (day - 80.3)) / 365)) ** 2;
}

const YEAR: SettingTable = { kind: TILT, settings: SETTINGS, days: 365, energy_kwh: filled(365, seasons) };

/** A year of 12 days: +10 from day 3 to 8 and -10 else, 4 kWh at the right tilt, 1 at the other, 0 at all others. */
const TWO_SEASONS: SettingTable = {
  kind: TILT,
  settings: SETTINGS,
  days: 12,
  energy_kwh: filled(12, (day, value) => {
    const right = day >= 3 && day < 9 ? 10 : -10;
    if (value === right) return 4;
    return value === -right ? 1 : 0;
  }),
};
const TWO: ResettingPlan = {
  days: 12,
  periods: [
    { day: 3, setting: 3 },
    { day: 9, setting: 1 },
  ],
};

describe('departing from a plan', () => {
  it('a visit left out costs its whole period', () => {
    // Worked by hand: 6 days x (4 - 1) each.
    expect(skipPenalties(TWO_SEASONS, TWO)).toEqual([18, 18]);
  });

  it('late visits: worked by hand, through the turn of the year', () => {
    expect(latePenalty(TWO_SEASONS, TWO, 0)).toEqual({ days: 0, each_kwh: [0, 0], all_kwh: 0 });
    expect(latePenalty(TWO_SEASONS, TWO, 2)).toEqual({ days: 2, each_kwh: [6, 6], all_kwh: 12 });
    // A week late is after the next visit: that one is left out. All 7 of 12 days late is all 5 days early.
    expect(latePenalty(TWO_SEASONS, TWO, 7).each_kwh).toEqual([18, 18]);
    expect(latePenalty(TWO_SEASONS, TWO, 7).all_kwh).toBe(30);
    expect(latePenalty(TWO_SEASONS, TWO, 12).all_kwh).toBe(0);
  });

  it('agrees with plans that have the dates moved', () => {
    const plan = studyResettings(YEAR, { most: 6 }).resettings[6].plan;
    const energy = evaluatePlan(YEAR, plan);
    for (const days of [1, 3, 7, 14]) {
      const { each_kwh, all_kwh } = latePenalty(YEAR, plan, days);
      const moved = (only: number) => ({
        ...plan,
        periods: plan.periods
          .map((period, i) =>
            only < 0 || i === only ? { ...period, day: (period.day + days) % 365 } : period,
          )
          .sort((a, b) => a.day - b.day),
      });
      each_kwh.forEach((loss, i) => {
        expect(loss).toBeCloseTo(energy - evaluatePlan(YEAR, moved(i)), 9);
        expect(loss).toBeGreaterThan(0);
      });
      expect(all_kwh).toBeCloseTo(energy - evaluatePlan(YEAR, moved(-1)), 9);
      // Sabotage: coming early is another number.
      expect(Math.abs(latePenalty(YEAR, plan, 365 - days).all_kwh - all_kwh)).toBeGreaterThan(1e-3);
    }
  });

  it('dates may move while the year loses less than a share', () => {
    // 48 kWh a year; a day wrong costs 3: 0.13 of the year is 6.24 kWh, two days.
    expect(dateSlack(TWO_SEASONS, TWO, 0.13)).toEqual([
      { earlier_days: 2, later_days: 2 },
      { earlier_days: 2, later_days: 2 },
    ]);
    expect(dateSlack(TWO_SEASONS, TWO, 0.12)[0]).toEqual({ earlier_days: 1, later_days: 1 });
    // Never past the neighbours.
    expect(dateSlack(TWO_SEASONS, TWO, 1)[0]).toEqual({ earlier_days: 5, later_days: 5 });
  });

  it('a plan without changes has nothing to be late', () => {
    const still = { days: 12, periods: [{ day: 0, setting: 2 }] };
    expect(skipPenalties(TWO_SEASONS, still)).toEqual([]);
    expect(dateSlack(TWO_SEASONS, still, 0.1)).toEqual([]);
    expect(latePenalty(TWO_SEASONS, still, 5).all_kwh).toBe(0);
  });
});

/** Replicates with noise that the settings share (`common`) and noise of their own, kWh. */
function replicates(seed: string, count: number, common: number, own: number, flat = false): Float64Array[] {
  const random = seedrandom(seed);
  const normal = () => Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random());
  return Array.from({ length: count }, () => {
    const shared = Float64Array.from({ length: 365 }, () => common * normal());
    return filled(365, (day, value) => (flat ? 10 : seasons(day, value)) + shared[day] + own * normal());
  });
}

describe('noise is not sold as gain', () => {
  it('a table of nothing but noise: the own table sees gains, left-out folds and a fresh table do not', () => {
    const noisy = tableOfReplicates(TILT, SETTINGS, 365, replicates('noise', 16, 0, 1, true));
    const fresh = tableOfReplicates(TILT, SETTINGS, 365, replicates('other', 16, 0, 1, true));
    const study = studyResettings(noisy, { most: 12 });
    const byFresh = studyResettings(noisy, { most: 12, fresh });
    expect(study.checked).toBe('left-out folds');
    expect(byFresh.checked).toBe('fresh table');
    const sum = (pick: (n: number) => number) =>
      study.resettings.slice(1).reduce((total, one) => total + pick(one.asked), 0);
    expect(sum((n) => study.resettings[n].gain.value)).toBeGreaterThan(20);
    expect(study.resettings.filter((one) => one.gainIsSure).length).toBeLessThanOrEqual(1);
    expect(byFresh.resettings.filter((one) => one.gainIsSure).length).toBeLessThanOrEqual(1);
    for (const { resettings, checkedEveryDay, everyDay } of [study, byFresh]) {
      expect(Math.abs(resettings[12].checkedEnergy.value - 3650)).toBeLessThan(
        4 * resettings[12].checkedEnergy.std_err,
      );
      expect(Math.abs(checkedEveryDay.value - 3650)).toBeLessThan(4 * checkedEveryDay.std_err);
      // Sabotage: read on its own table the same plan is far above what there is.
      expect(everyDay.value - 3650).toBeGreaterThan(10 * checkedEveryDay.std_err);
      expect(resettings[12].energy.value - 3650).toBeGreaterThan(4 * resettings[12].checkedEnergy.std_err);
    }
  });

  it('without replicates a noisy table says that it cannot tell', () => {
    const one = replicates('single', 1, 0, 1, true)[0];
    const table = { ...YEAR, energy_kwh: one, std_err_kwh: new Float64Array(one.length).fill(1) };
    const study = studyResettings(table, { most: 4 });
    expect(study.checked).toBe('own table');
    expect(study.resettings[2].gainIsSure).toBeNull();
    expect(resettingRows(study)[2].gain_is_sure).toBe('unknown');
    // Nor does a fresh table that does not say how noisy it is; with its errors it can.
    const { std_err_kwh, ...silent } = { ...table, energy_kwh: replicates('again', 1, 0, 1, true)[0] };
    expect(studyResettings(table, { most: 4, fresh: silent }).resettings[2].gainIsSure).toBeNull();
    expect(
      studyResettings(table, { most: 4, fresh: { ...silent, std_err_kwh } }).resettings[2].gainIsSure,
    ).toBe(false);
  });

  it('true gains stay sure, and errors hold the truth', () => {
    const table = tableOfReplicates(TILT, SETTINGS, 365, replicates('seasons', 16, 0.5, 0.2));
    const study = studyResettings(table, { most: 4 });
    expect(study.resettings[2].gainIsSure).toBe(true);
    expect(study.resettings[4].gainIsSure).toBe(true);
    for (const n of [2, 4]) {
      const { plan, checkedGain } = study.resettings[n];
      const less = study.resettings[n - 1].plan;
      const truth = evaluatePlan(YEAR, plan) - evaluatePlan(YEAR, less);
      expect(Math.abs(checkedGain.value - truth)).toBeLessThan(4 * checkedGain.std_err);
    }
  });

  it('errors of a plan and of a gain: closed form, shared noise cancels', () => {
    const [common, own, count] = [0.5, 0.05, 400];
    const table = tableOfReplicates(TILT, SETTINGS, 365, replicates('errors', count, common, own));
    const summer = { days: 365, periods: [{ day: 0, setting: 4 }] };
    const half = {
      days: 365,
      periods: [
        { day: 80, setting: 4 },
        { day: 260, setting: 0 },
      ],
    };
    const single = energyFigure(table, half);
    const gain = energyFigure(table, half, summer);
    // Closed form: 365 independent days; the two plans differ on 185 of them, by two settings' own noise. 400 replicates: 4 %.
    const expected = Math.sqrt((365 * (common ** 2 + own ** 2)) / count);
    const difference = Math.sqrt((185 * 2 * own ** 2) / count);
    expect(Math.abs(single.std_err / expected - 1)).toBeLessThan(0.12);
    expect(Math.abs(gain.std_err / difference - 1)).toBeLessThan(0.12);
    // Sabotage: adding the errors of the two plans as if they were independent is off by far.
    expect((Math.SQRT2 * single.std_err) / difference).toBeGreaterThan(5);
    const { replicates_kwh: _, ...bare } = table;
    const independent = { ...bare, std_err_kwh: new Float64Array(365 * 5).fill(0.1) };
    expect(energyFigure(independent, half).std_err).toBeCloseTo(0.1 * Math.sqrt(365), 12);
    expect(energyFigure(independent, half, summer).std_err).toBeCloseTo(0.1 * Math.sqrt(2 * 185), 12);
    expect(energyFigure(independent, half, half)).toMatchObject({ value: 0, std_err: 0 });
  });

  it('folds of unlike size give the mean of all replicates for a plan that is the same in all', () => {
    const table = tableOfReplicates(TILT, SETTINGS, 365, replicates('folds', 7, 0.2, 0));
    const study = studyResettings(table, { most: 0, folds: 3 });
    expect(study.resettings[0].checkedEnergy.value).toBeCloseTo(study.resettings[0].energy.value, 8);
  });

  it('a single replicate has an error without end, and rows without one', () => {
    const study = studyResettings(tableOfReplicates(TILT, SETTINGS, 365, replicates('lone', 1, 0, 1)), {
      most: 2,
    });
    expect(study.resettings[2].checkedGain.std_err).toBe(Number.POSITIVE_INFINITY);
    expect(study.resettings[2].gainIsSure).not.toBe(true);
    expect(resettingRows(study)[2].energy_std_err_kwh).toBeNull();
  });

  it('two ways with shared random numbers: the paired difference is far surer than its parts', () => {
    const tables = replicates('ways', 16, 0.5, 0.02);
    const better = tables.map((one) => one.map((value) => value + 0.01));
    const mirrors = studyResettings(tableOfReplicates(TILT, SETTINGS, 365, tables), { most: 2 });
    const receivers = studyResettings(tableOfReplicates(TILT, SETTINGS, 365, better), { most: 2 });
    const row = wayRows([mirrors, receivers])[5];
    expect(row.paired).toBe('yes');
    expect(row.above_first_way_kwh).toBeCloseTo(3.65, 6);
    expect(row.above_first_way_std_err_kwh).toBeLessThan(1e-6);
    // The first way against itself is no difference; the better way's two changes are beyond it, its own no changes are not.
    expect(wayRows([mirrors, receivers])[2]).toMatchObject({
      above_first_way_kwh: 0,
      above_first_way_std_err_kwh: 0,
      first_way_needs_changes: 2,
    });
    expect(row.first_way_needs_changes).toBeNull();
    expect(wayRows([receivers, mirrors])[5].first_way_needs_changes).toBe(2);
    // Sabotage: replicates out of step have lost what they shared.
    const shuffled = tableOfReplicates(TILT, SETTINGS, 365, [...better].reverse());
    const off = wayRows([mirrors, studyResettings(shuffled, { most: 2 })])[5];
    expect(off.above_first_way_std_err_kwh).toBeGreaterThan(1);
  });

  it('refuses a single fold and a fresh table of another year', () => {
    expect(() => studyResettings(YEAR, { most: 2, folds: 1 })).toThrow(/2 folds/);
    expect(() => studyResettings(YEAR, { most: 2, fresh: TWO_SEASONS })).toThrow(/fresh table/);
  });
});

describe('tables', () => {
  const study = studyResettings(YEAR, { most: 6 });

  it('days have dates', () => {
    expect(monthAndDay(0, 365)).toBe('01-01');
    expect(monthAndDay(59, 365)).toBe('03-01');
    expect(monthAndDay(59, 366)).toBe('02-29');
    expect(monthAndDay(364, 365)).toBe('12-31');
    expect(monthAndDay(365, 366)).toBe('12-31');
  });

  it('one row per number of changes; energies add up', () => {
    const rows = resettingRows(study);
    expect(rows).toHaveLength(7);
    expect(rows[0].plan).toBe('always 0 deg');
    expect(rows[4].plan).toMatch(/^\d\d-\d\d to -?\d+ deg(; \d\d-\d\d to -?\d+ deg){3}$/);
    let sum = rows[0].planned_energy_kwh;
    for (const row of rows.slice(1)) {
      sum += row.gain_of_last_kwh;
      expect(row.planned_energy_kwh).toBeCloseTo(sum, 8);
      expect(row.share_of_every_day_pct).toBeLessThanOrEqual(100);
    }
    expect(rows[0].cheapest_skip_kwh).toBeNull();
    expect(rows[0].shortest_period_days).toBe(365);
    for (const row of rows)
      for (const value of Object.values(row)) expect(['string', 'number', 'object']).toContain(typeof value);
  });

  it('one row per change', () => {
    const rows = changeRows(study, 4);
    expect(rows).toHaveLength(4);
    expect(rows.reduce((sum, row) => sum + row.held_days, 0)).toBe(365);
    expect(rows.reduce((sum, row) => sum + row.step, 0)).toBe(0);
    expect(changeRows(study, 0)).toEqual([]);
    expect(() => changeRows(study, 9)).toThrow(/no plan of 9/);
  });

  it('lateness and ways', () => {
    const late = lateRows(study);
    expect(new Set(late.map((row) => row.late_days))).toEqual(new Set([1, 3, 7, 14]));
    for (const row of late) expect(row.worst_one_kwh).toBeGreaterThanOrEqual(row.mean_one_kwh);
    const receivers = studyResettings(
      { ...YEAR, kind: { name: 'receiver height', unit: 'mm' } },
      { most: 6 },
    );
    const ways = wayRows([study, receivers]);
    expect(ways).toHaveLength(14);
    expect(ways[0].above_first_way_kwh).toBe(0);
    expect(ways[13]).toMatchObject({ way: 'receiver height', above_first_way_kwh: 0, paired: 'no' });
    expect(() => wayRows([study, studyResettings(YEAR, { most: 2 })])).toThrow(/fewer changes/);
  });
});
